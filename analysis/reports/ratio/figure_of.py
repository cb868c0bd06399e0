"""The figures of an answer: risk over the exposure, estimates under each choice, calibration; as bytes of a file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analysis.estimators.regression.fitted import NotEstimable
from analysis.reports.ratio.effects import headline, risks
from analysis.reports.ratio.exposure_values import distinct, places_of_risk
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, RATIO
from analysis.reports.ratio.sensitivity_section import sensitivity_section
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from analysis.figures.stone_free import Kind
    from analysis.reports.ratio.answer import Answer
    from analysis.reports.ratio.fitting import Made

GRID = 61
NO_CURVES = ("outcome", "at", "estimate", "low", "high")
BAND_EDGES = (("scope over sheath 0.85 and over", 1.0, 1 / 0.85), ("0.75 to under 0.85", 1 / 0.85, 1 / 0.75),
              ("under 0.75", 1 / 0.75, 99.0))  # fmt: skip


def dose_response(answers: list[Answer], kind: Kind) -> bytes:
    """Adjusted risk over the exposure, of one outcome or two on the same axis.

    Raises GravelbookError for an exposure of words, an outcome of grades or one beside a risk that is none, or a model
    without risks.
    """
    from analysis.figures.dose_response import DoseData, DoseWording, draw
    from analysis.figures.stone_free import as_bytes

    first = answers[0]
    column = _axis(first)
    share = {one.rows.kind == "yes_no" for one in answers}
    if any(one.rows.kind == "ordered" for one in answers) or len(share) > 1:
        raise GravelbookError(
            "--figure draws risks of yes/no outcomes, or means of one quantity, on one axis; the outcomes asked for do "
            "not share one. Leave --second out, or take a complication of at least a grade in place of the worst grade."
        )
    if share == {False} and len(answers) > 1:
        raise GravelbookError("--figure shows one quantity at a time, for two have no unit in common.")
    curves: list[dict[str, Any]] = []
    points: list[dict[str, Any]] = []
    for one in answers:
        for name, values, into in _lines(one, column):
            into_rows = curves if into == "curve" else points
            into_rows += [{"outcome": name, **row} for row in values]
    own = _made(first).frame[column].to_numpy(dtype=np.float64)
    at = np.unique(np.concatenate([_made(one).frame[column].to_numpy(dtype=np.float64) for one in answers]))
    many = np.array([int((own == value).sum()) for value in at])
    of_ratio = column == RATIO
    title = f"Adjusted {first.rows.measured if len(answers) == 1 else 'risks'} over the {_words(column)}"
    wording = DoseWording(
        title=title,
        notes=_notes(answers),
        exposure="sheath-to-scope ratio (sheath inner over scope shaft)" if of_ratio else _words(column),
        reciprocal="its reciprocal, the scope-to-sheath ratio" if of_ratio else None,
        value="adjusted risk" if share == {True} else f"adjusted {first.rows.measured}",
        percent=share == {True},
        counted=f"{first.rows.unit}s",
    )
    data = DoseData(
        curves=pd.DataFrame(curves, columns=list(NO_CURVES)),
        points=pd.DataFrame(points, columns=list(NO_CURVES)),
        counts=pd.DataFrame({"at": at, "n": many}),
        compared=[value for value in first.contrast or () if not isinstance(value, str)],
        bands=BAND_EDGES if of_ratio else (),
    )
    said = "; ".join(f"{row['outcome']} at {row['at']:.3g}: {row['estimate']:.3g}" for row in (points or curves[::10]))
    return as_bytes(draw(data, wording), kind, title=title, description=said)


def forest(answers: list[Answer], kind: Kind) -> bytes:
    """Crude, adjusted and sensitivity estimates, one group a model. Raises GravelbookError without one scale."""
    from analysis.figures.forest import ForestWording, draw
    from analysis.figures.stone_free import as_bytes

    scales = {_made(one).fit.scale for one in answers}
    if len(scales) > 1:
        raise GravelbookError(f"--forest shows one scale, and these models have {' and '.join(sorted(scales))}.")
    rows: list[dict[str, Any]] = []
    for one in answers:
        made = _made(one)
        single = len(headline(made)) == 1
        group = f"{one.rows.label}{f'; {headline(made)[0].label}' if single else ''}"
        for said, fit in (("crude, all rows", one.crude_all), ("crude, the model's rows", one.crude)):
            if fit is not None and fit is not made:
                rows += [
                    _forest_row(said if single else f"{said}: {each.label}", group, fit, each) for each in headline(fit)
                ]
        for row in sensitivity_section(made, one.frame, one.checks, None).rows:
            if row.get("measure") != "E-value":
                rows.append(_sensitivity_row({**row, "effect": None if single else row["effect"]}, group))
    scale = scales.pop()
    linear = scale == "difference"
    title = f"{answers[0].model.name[0].upper()}{answers[0].model.name[1:]}: the estimate under each choice"
    wording = ForestWording(
        title=title, notes=_notes(answers), scale="difference of means" if linear else scale, linear=linear
    )
    said = "; ".join(f"{row['label']}: {row['estimate']:.3g}" for row in rows if row["estimate"] == row["estimate"])
    try:
        figure = draw(pd.DataFrame(rows), wording)
    except ValueError as fault:
        raise GravelbookError(f"--forest cannot be drawn: {fault}") from None
    return as_bytes(figure, kind, title=title, description=said)


def calibration(answers: list[Answer], kind: Kind) -> bytes:
    """Predicted against observed risk of the first model. Raises GravelbookError for other than a yes/no outcome."""
    from analysis.figures.calibration import CalibrationData, CalibrationWording, draw
    from analysis.figures.stone_free import as_bytes

    one = answers[0]
    made, checks = _made(one), one.checks
    if checks is None:
        raise GravelbookError("--calibration draws a model of a yes/no outcome, and this one is none.")
    chance = 1 / (1 + np.exp(-np.clip(made.design.x @ made.fit.coefficients, -30, 30)))
    few = one.rows.small_number
    groups = pd.DataFrame(
        [
            {
                "predicted": each.predicted,
                "observed": each.observed,
                "low": each.low,
                "high": each.high,
                "n": each.n,
                "events": each.events,
            }
            for each in checks.calibration.curve
            if each.n >= few
        ],
        columns=["predicted", "observed", "low", "high", "n", "events"],
    )
    curves = pd.DataFrame(
        {
            "curve": "smoothed",
            "predicted": list(checks.curve.predicted),
            "observed": np.clip(list(checks.curve.observed), 0, 1),
        }
    )
    edges = np.linspace(0, 1, 41)
    with_it, _ = np.histogram(chance[made.y == 1], edges)
    without_it, _ = np.histogram(chance[made.y == 0], edges)
    spread = pd.DataFrame({"low": edges[:-1], "high": edges[1:], "with_it": with_it, "without_it": without_it})
    spread = spread[(spread["with_it"] + spread["without_it"]) > 0].reset_index(drop=True)
    title = f"Calibration: {one.rows.label}"
    wording = CalibrationWording(
        title=title,
        notes=[*_notes(answers[:1]), "Marks are tenths of the rows by predicted risk, with Wilson's interval."],
        outcome="the outcome",
        figures=_figures(checks),
    )
    return as_bytes(draw(CalibrationData(groups, curves, spread), wording), kind, title=title, description=title)


DRAWN: Mapping[str, Callable[[list[Answer], Kind], bytes]] = {
    "figure": dose_response,
    "forest": forest,
    "calibration": calibration,
}


def _axis(one: Answer) -> str:
    column = one.model.exposure.column
    if column == PUBLISHED_BANDS:
        return RATIO
    if isinstance(distinct(_made(one).frame[column])[0], str):
        raise GravelbookError(f"--figure needs an exposure of numbers for its axis, and {column} holds words.")
    return column


def _lines(one: Answer, column: str) -> list[tuple[str, list[dict[str, Any]], str]]:
    """Name, rows and how they are drawn: a curve along the observed range with marks at observed values, or marks."""
    made = _made(one)
    try:
        if one.model.exposure.shape in ("levels", "bands"):
            return [(one.rows.label, _marks(made, column), "point")]
        values = made.frame[column].to_numpy(dtype=np.float64)
        grid = np.linspace(values.min(), values.max(), GRID)
        along = [_drawn(float(at.value), at.found) for at in risks(made, [float(each) for each in grid])]
        at_values = [_drawn(float(at.value), at.found) for at in risks(made, places_of_risk(made.exposure, made.frame))]
    except NotEstimable as fault:
        raise GravelbookError(f"--figure: there is no risk to draw: {fault}.") from None
    return [(one.rows.label, along, "curve"), (one.rows.label, at_values, "point")]


def _marks(made: Made, column: str) -> list[dict[str, Any]]:
    """One mark for each observed value, the categories' risk at it."""
    rows = []
    found = {at.value: at.found for at in risks(made, places_of_risk(made.exposure, made.frame))}
    for value in distinct(made.frame[column]):
        mine = made.frame.loc[made.frame[column] == value, made.exposure.column].iloc[0]
        if made.exposure.shape == "levels":
            rows.append(_drawn(value, found[str(mine)]))
            continue
        cuts = np.asarray(made.exposure.cuts)
        place = np.searchsorted(cuts, value, side="right")
        rows += [_drawn(value, one) for at, one in found.items() if np.searchsorted(cuts, at, side="right") == place]
    return rows


def _drawn(at: float, one: Any) -> dict[str, Any]:
    return {"at": at, "estimate": one.estimate, "low": one.low, "high": one.high}


def _forest_row(label: str, group: str, made: Made, one: Any) -> dict[str, Any]:
    events = np.nan if made.events is None else made.events
    return {
        "label": label, "group": group, "estimate": one.estimate, "low": one.low, "high": one.high, "n": made.n,
        "events": events, "instead": "", "main": False,
    }  # fmt: skip


def _sensitivity_row(row: dict[str, Any], group: str) -> dict[str, Any]:
    none = row["estimate"] is None

    def number(name: str) -> float:
        value = row.get(name)
        return float("nan") if value is None else float(value)

    label = {"as asked": "adjusted"}.get(row["model"], row["model"])
    return {
        "label": f"{label}: {row['effect']}" if row["effect"] else label,
        "group": group,
        **{name: number(name) for name in ("estimate", "low", "high", "n", "events")},
        "instead": str(row["reason"])[:60] if none else "",
        "main": row["model"] == "as asked",
    }


def _figures(checks: Any) -> list[str]:
    area, slope = checks.discrimination, checks.calibration.slope
    lines = []
    if area.estimate is not None and area.low is not None:
        lines.append(f"area {area.estimate:.2f} ({area.low:.2f} to {area.high:.2f})")
    if checks.optimism.area.corrected is not None:
        lines.append(f"corrected {checks.optimism.area.corrected:.2f}")
    if slope.estimate is not None:
        lines.append(f"slope {slope.estimate:.2f}, on its own rows")
    if checks.optimism.slope.corrected is not None:
        lines.append(f"slope corrected {checks.optimism.slope.corrected:.2f}")
    return lines


def _notes(answers: list[Answer]) -> list[str]:
    first = answers[0]
    notes = []
    for one in answers:
        made = _made(one)
        events = "" if made.events is None else f", {made.events:,} with it"
        held = ", ".join(term.column for term in one.model.terms[1:]) or "nothing (crude)"
        notes.append(f"{one.rows.label}: {made.n:,} {one.rows.unit}s{events}; held alike: {held}; {made.fit.kind}.")
    if any(one.model.exposure.shape in ("bands", "levels") for one in answers):
        notes.append("Of categories there is one estimate each; it stands at every observed value of the category.")
    if first.model.exposure.column in (RATIO, PUBLISHED_BANDS):
        notes.append("Published categories are cut on the reciprocal, and are not linear in the ratio.")
    notes.append("Nothing is drawn beyond observed values. An adjusted association is no proof of a cause.")
    return notes


def _made(one: Answer) -> Made:
    if one.adjusted is None:
        raise GravelbookError(
            "A figure draws a model, and an exact test has none; leave --figure, --forest and --calibration out."
        )
    return one.adjusted


def _words(column: str) -> str:
    return "sheath-to-scope ratio" if column == RATIO else column.replace("_", " ")
