"""Sections of risks: at each value of the exposure, and one value against another."""

from __future__ import annotations

from typing import Any

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.regression.standardised_risk import Standardised
from analysis.reports.ratio.effects import conditional, contrasts, risks, shown
from analysis.reports.ratio.exposure_values import places_of_risk, rows_at, same_value
from analysis.reports.ratio.fitting import Made
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, RATIO
from analysis.reports.ratio.result_sections import BANDS_SAID, effect_row
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import points as rounded_points
from analysis.tables.rounding import points_range, ratio, ratio_range

EXTRAPOLATION = "Nothing is read off beyond the values that were observed."
STANDARDISED = (
    "The mean over the model's rows of what the model expects of each at that value, everything else as it is "
    "(Lane PW, Nelder JA, Biometrics 1982;38:613-621); limits by the delta method, covariates taken as given."
)


def risk_section(made: Made, unknown: int) -> Section:
    """The adjusted risk (mean, chance of a grade) at each observed value, with how many rows have it."""
    values = places_of_risk(made.exposure, made.frame)
    share = made.rows.kind in ("yes_no", "ordered")
    rows, notes = [], [STANDARDISED, EXTRAPOLATION]
    try:
        for one in risks(made, values):
            said, many = rows_at(made.exposure, made.frame, one.value)
            rows.append(
                {
                    "value": said,
                    "reciprocal": 1 / one.value if _on_the_ratio(made) else None,
                    "measure": one.measure,
                    "rows_at": many,
                    **_standardised(one.found),
                    "unknown": unknown,
                    "n": made.n,
                }
            )
    except NotEstimable as fault:
        notes = [f"Not worked out: {fault}."]
    if made.exposure.column == PUBLISHED_BANDS:
        notes.append(BANDS_SAID)
    if made.model.fit == "firth":
        notes.append("Firth's penalty draws risks a little towards one half.")
    if made.rows.kind == "ordered":
        notes.append("Each row is the chance of at least that grade.")
    return Section(
        name="risk",
        title=f"Adjusted {made.rows.measured} at each value of {made.exposure.column}",
        rows=rows,
        columns=(
            Column(made.exposure.column, "value"),
            *((Column("reciprocal", "reciprocal", "ratio", free=True),) if _on_the_ratio(made) else ()),
            *((Column("grade", "measure"),) if made.rows.kind == "ordered" else ()),
            Column("rows at it", "rows_at", "count"),
            Column("adjusted", "estimate", "percent" if share else "number"),
            Column("interval", "low high", "percent_range") if share else Column("from", "low", "number"),
            *(() if share else (Column("to", "high", "number"),)),
        ),
        notes=notes,
    )


def contrast_section(made: Made, first: Any, second: Any, unknown: int) -> Section:
    """One value against another: risk difference, ratio and odds ratio by standardisation; the conditional effect."""
    one = conditional(made, first, second)
    rows: list[dict[str, Any]] = [
        {
            **effect_row("conditional", made, one, unknown),
            "measure": one.scale if one.scale != "difference" else "difference of means",
            "shown": _shown(one.estimate, one.low, one.high, points=False),
        }
    ]
    notes = []
    try:
        for each in contrasts(made, first, second):
            points = each.label == "risk difference"
            rows.append(
                {
                    "model": "standardised",
                    "effect": one.label,
                    "measure": each.label,
                    "n": made.n,
                    "events": made.events,
                    "unknown": unknown,
                    "estimate": each.estimate,
                    "low": each.low,
                    "high": each.high,
                    "p": None,
                    "shown": _shown(each.estimate, each.low, each.high, points=points),
                }
            )
    except NotEstimable as fault:
        notes.append(f"Standardised contrasts are not worked out: {fault}.")
    if made.rows.kind == "yes_no":
        notes.append(
            "The conditional odds ratio holds within people of like covariates and lies further from 1 than the "
            "standardised one; both may be right."
        )
    if made.exposure.column == PUBLISHED_BANDS:
        notes.append(BANDS_SAID)
    return Section(
        name="contrast",
        title=f"{made.exposure.column} {shown(first)} against {shown(second)}: {made.rows.label}",
        rows=rows,
        columns=(
            Column("", "model"),
            Column("measure", "measure"),
            Column("n", "n", "count"),
            Column("estimate and interval", "shown"),
        ),
        definition={
            "index": first,
            "comparator": second,
            "observed": [_observed(made, first), _observed(made, second)],
        },
        notes=[*notes, EXTRAPOLATION],
    )


def _on_the_ratio(made: Made) -> bool:
    return made.exposure.column == RATIO and made.exposure.shape != "bands"


def _observed(made: Made, value: Any) -> int:
    return int(same_value(made.frame[made.exposure.column], value).sum())


def _standardised(one: Standardised) -> dict[str, Any]:
    return {"estimate": one.estimate, "low": one.low, "high": one.high, "standard_error": one.standard_error}


def _shown(estimate: float, low: float, high: float, *, points: bool) -> str:
    if points:
        return f"{rounded_points(estimate)} points ({points_range(low, high)})"
    return f"{ratio(estimate)} ({ratio_range(low, high)})"
