"""The model looked at before it is believed: discrimination, calibration, influence, collinearity, overdispersion."""

from __future__ import annotations

from typing import Any

from analysis.estimators.regression.checks.model_checks import ModelChecks, model_checks
from analysis.estimators.regression.checks.table import check_rows
from analysis.reports.ratio.fitting import Made
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import p_value

READ = (
    "How to read them: an area of 0.5 is chance, 1 tells all apart; on the rows that made the model calibration in the "
    "large is 0 and the slope 1 by construction, so that the corrected ones count; collinearity is by how many times a "
    "term's limits are widened by the other terms; residuals within clusters correlate by 0 when rows are independent."
)


def checks_of(made: Made) -> ModelChecks | None:
    """The checks of a yes/no model; None of another."""
    if made.rows.kind != "yes_no":
        return None
    return model_checks(
        made.fit,
        made.design,
        made.y,
        cluster=made.cluster,
        exposure=made.exposure.column,
        replicates=made.model.replicates,
        seed=made.model.seed,
        level=made.model.level,
    )


def checks_section(made: Made, checks: ModelChecks | None) -> Section:
    """All checks in one table, always."""
    rows = _plain_rows(made) if checks is None else [_row(one) for one in check_rows(checks)]
    return Section(
        name="checks",
        title="Checks of the model",
        rows=rows,
        columns=(
            Column("check", "check"),
            Column("measure", "shown"),
            Column("estimate", "estimate", "ratio", free=True),
            Column("interval", "low high", "ratio_range", free=True),
            Column("p", "p_shown"),
        ),
        definition={"seed": made.model.seed, "resamples": made.model.replicates},
        notes=(*_why_none(rows), *(() if checks is None else (READ, *checks.remarks)), *_imputed(made)),
    )


def _row(one: Any) -> dict[str, Any]:
    told = one.check == "influence" and one.estimate is not None
    small = one.estimate is not None and abs(one.estimate) < 1e-9  # rounding of what is 0 by construction
    return {
        "check": one.check,
        "measure": one.measure,
        "shown": f"{_short(one.measure)} ({one.reading})" if told and one.reading else _short(one.measure),
        "n": one.n,
        "unknown": None,
        "estimate": 0.0 if small else one.estimate,
        "low": one.low,
        "high": one.high,
        "p": one.p,
        "p_shown": None if one.p is None else p_value(one.p).removeprefix("p = ").removeprefix("p "),
        "reading": one.reading,
    }


def _why_none(rows: list[dict[str, Any]]) -> list[str]:
    """Each reason once, with what has no number for it."""
    by_reason: dict[str, list[str]] = {}
    for row in rows:
        if row["estimate"] is None:
            by_reason.setdefault(str(row["reading"]), []).append(_short(str(row["measure"])))
    return [f"No number for {', '.join(measures)}: {reason}." for reason, measures in by_reason.items()]


def _imputed(made: Made) -> tuple[str, ...]:
    if not made.imputed:
        return ()
    return ("Checked on the first of the completed data sets, with the coefficients of all of them.",)


def _short(measure: str) -> str:
    """Without what the note says once for all terms."""
    return measure.removesuffix(": generalised variance inflation, root for one column")


def _plain_rows(made: Made) -> list[dict[str, Any]]:
    """What can be looked at in a model of a quantity or of grades: collinearity, and its own measure of scatter."""
    from analysis.estimators.regression.checks.collinearity import variance_inflation

    terms = {term.column: made.design.places(term.column) for term in made.design.terms}
    rows: list[dict[str, Any]] = []
    told = {
        "r_squared": ("fit", "share of the variance explained", "on the rows that made the model"),
        "residual_sd": ("scatter", "standard deviation of the residuals", "in the outcome's own unit"),
        "coefficient_of_variation": ("scatter", "coefficient of variation about the mean", "0 is without scatter"),
        "dispersion": ("overdispersion", "dispersion of the negative binomial model", "0 is Poisson's"),
    }
    for key, (check, measure, reading) in told.items():
        value = made.fit.extra.get(key)
        if isinstance(value, int | float):
            rows.append(_plain(check, measure, made.n, float(value), reading))
    found = made.dispersion
    if found is not None:
        rows.append(
            {
                **_plain(
                    "overdispersion", "scatter over that of Poisson counts", made.n, found.ratio, "1 is Poisson's"
                ),
                "p": found.p,
                "p_shown": p_value(found.p).removeprefix("p = ").removeprefix("p "),
            }
        )
    for one in variance_inflation(made.design.x, terms):
        said = one.reason or "limits widened so many times by the other terms" + ("; much" if one.marked else "")
        rows.append(
            _plain(
                "collinearity",
                f"{one.term}: generalised variance inflation, root for one column",
                made.n,
                one.root,
                said,
            )
        )
    return rows


def _plain(check: str, measure: str, n: int, estimate: float | None, reading: str) -> dict[str, Any]:
    return {
        "check": check,
        "measure": measure,
        "shown": f"{_short(measure)} ({reading})",
        "n": n,
        "unknown": None,
        "estimate": estimate,
        "low": None,
        "high": None,
        "p": None,
        "p_shown": None,
        "reading": reading,
    }
