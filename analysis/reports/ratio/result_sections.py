"""Sections of a result: crude and adjusted effects, tests, risks at each value, one value against another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from analysis.estimators.regression.fitted import Effect
from analysis.reports.ratio.effects import headline, tests
from analysis.reports.ratio.fitting import Made
from analysis.reports.ratio.model_file import PUBLISHED_BANDS
from analysis.reports.sections.report import Column, Section
from analysis.tables.rounding import p_value

BANDS_SAID = (
    "The published categories are cut on the reciprocal (scope over sheath), closed below: under 0.75, 0.75 to under "
    "0.85, 0.85 and over. They are not linear in the sheath-to-scope ratio: equal steps of one are none of the other."
)


def effect_section(crude_all: Made, crude: Made, adjusted: Made, unknown: int) -> Section:
    """Crude on all rows with outcome and exposure, crude on the model's rows, and adjusted.

    unknown: rows with the exposure that are in no model because the outcome or a covariate is missing.
    """
    parts = [("crude, all rows", crude_all)]
    if crude_all is not adjusted:
        parts += [("crude, the model's rows", crude), ("adjusted", adjusted)]
    rows = [
        effect_row(said, made, one, unknown if made is adjusted else 0)
        for said, made in parts
        for one in headline(made)
    ]
    notes = list(adjusted.remarks)
    if adjusted.exposure.shape == "spline":
        notes.append("A spline has no effect for each step: it is read between two values, and at each of them below.")
    if adjusted.model.interactions:
        notes.append(
            "With products in the model an effect holds where the other term is 0 or at its reference; read the risks."
        )
    if adjusted.exposure.column == PUBLISHED_BANDS:
        notes.append(BANDS_SAID)
    if adjusted.rows.kind == "yes_no":
        each = adjusted.fit.extra.get("events_per_parameter")
        if each is not None:
            rarer = min(adjusted.events or 0, adjusted.n - (adjusted.events or 0))
            notes.append(
                f"Events per parameter: {each:.1f} ({rarer:,} of the rarer outcome, {adjusted.design.x.shape[1] - 1} "
                f"parameters besides the intercept); {adjusted.model.events_per_parameter:g} were asked for."
            )
    return Section(
        name="effect",
        title=f"What goes with {adjusted.exposure.column}: {adjusted.rows.label}",
        rows=rows,
        columns=(
            Column("", "model"),
            Column("of", "effect"),
            Column("measure", "measure"),
            Column("n", "n", "count"),
            *((Column("events", "events", "count"),) if adjusted.rows.kind == "yes_no" else ()),
            *_estimate_columns(adjusted.fit.exponentiated),
            Column("p", "p_shown"),
        ),
        definition=fit_record(adjusted),
        in_words=(
            ("formula", adjusted.design.formula),
            ("method", adjusted.fit.kind),
            ("errors", adjusted.fit.covariance_method + _clusters(adjusted)),
            ("intervals", f"{100 * adjusted.model.level:g} %"),
        ),
        notes=notes,
    )


def effect_row(said: str, made: Made, one: Effect, unknown: int) -> dict[str, Any]:
    """A row of an effect."""
    return {
        "model": said,
        "effect": one.label,
        "measure": one.scale if one.scale != "difference" else "difference of means",
        "n": made.n,
        "events": made.events,
        "unknown": unknown,
        "estimate": one.estimate,
        "low": one.low,
        "high": one.high,
        "p": one.p,
        "p_shown": _p(one.p),
        "level": one.level,
    }


def fit_record(made: Made) -> dict[str, Any]:
    """All that a model was made from, ready for JSON."""
    fit, design = made.fit, made.design
    return {
        "formula": design.formula,
        "method": fit.kind,
        "covariance": fit.covariance_method,
        "n": made.n,
        "events": made.events,
        "clusters": fit.clusters,
        "cluster_by": made.model.cluster_by,
        "dropped": dict(design.dropped),
        "levels": {name: list(levels) for name, levels in design.levels.items()},
        "knots": {name: list(knots) for name, knots in design.knots.items()},
        "outcome_levels": list(made.levels),
        "log_likelihood": fit.log_likelihood,
        "events_per_parameter": fit.extra.get("events_per_parameter"),
        "interval_level": made.model.level,
        "remarks": list(made.remarks),
    }


def tests_section(made: Made) -> Section:
    """Joint tests: whether the exposure matters, is a straight line, differs with a product; proportional odds."""
    rows: list[dict[str, Any]] = [
        {
            "question": one.label,
            "test": one.test,
            "n": made.n,
            "unknown": None,
            "estimate": _finite(one.statistic),
            "low": None,
            "high": None,
            "df": one.df,
            "p": _finite(one.p),
            "p_shown": _p(one.p),
        }
        for one in tests(made)
    ]
    notes = []
    if made.ordered is not None:
        asked = [made.ordered.tests.overall, *made.ordered.tests.terms]
        rows += [
            {
                "question": f"odds not proportional over the grades: {one.label}",
                "test": one.test,
                "n": made.n,
                "unknown": None,
                "estimate": one.statistic,
                "low": None,
                "high": None,
                "df": one.df,
                "p": one.p,
                "p_shown": _p(one.p),
                "reason": one.reason,
            }
            for one in asked
        ]
        freed = made.ordered.freed
        if freed:
            notes.append(
                f"The assumption of one effect over all grades fails for {', '.join(freed)} (p under 0.05): read the "
                "partial model below, where these differ from grade to grade."
            )
        notes += [made.ordered.reason] if made.ordered.reason else []
        notes += [f"{one.label}: {one.reason}" for one in asked if one.reason]
    return Section(
        name="tests",
        title="Tests",
        rows=rows,
        columns=(
            Column("question", "question"),
            Column("test", "test"),
            Column("df", "df", "count"),
            Column("statistic", "estimate", "ratio"),
            Column("p", "p_shown"),
        ),
        notes=notes,
    )


def partial_section(made: Made) -> Section | None:
    """Effects grade by grade, when the exposure's odds are not proportional; None otherwise."""
    from analysis.estimators.regression.partial_odds import effects_by_cut

    found = made.ordered
    if found is None or found.partial is None or made.exposure.column not in found.freed:
        return None
    names = [made.design.names[at] for at in made.places]
    rows = [
        effect_row(f"partial model, {name}", made, one, 0)
        for name in names
        for one in effects_by_cut(found.partial, name, level=made.model.level)
    ]
    return Section(
        name="by_grade",
        title="The effect of the exposure grade by grade (partial proportional odds)",
        rows=rows,
        columns=(Column("", "model"), Column("of", "effect"), *_estimate_columns(True), Column("p", "p_shown")),
        notes=("Terms were freed by their own test; the limits do not allow for that choice.",),
    )


def coefficient_section(made: Made) -> Section:
    """All coefficients. Those of adjusters are no effects: they are not adjusted for what they would need."""
    from analysis.estimators.pooled_regression import pooled_effects
    from analysis.estimators.regression.fitted import effects

    labels = [*made.fit.names] if made.ordered is not None else [one.label for one in made.design.columns]
    if made.pooled is not None:
        found = [one.effect for one in pooled_effects(made.pooled, labels, level=made.model.level)]
    else:
        found = effects(made.fit, labels, level=made.model.level)
    return Section(
        name="coefficients",
        title="All coefficients of the adjusted model",
        rows=[effect_row("adjusted", made, one, 0) for one in found],
        columns=(Column("term", "effect"), *_estimate_columns(made.fit.exponentiated), Column("p", "p_shown")),
        notes=("Only the exposure's is an answer: those of adjusters are not adjusted for what they would need.",),
    )


def _estimate_columns(exponentiated: bool) -> Sequence[Column]:
    if exponentiated:
        return Column("estimate", "estimate", "ratio"), Column("interval", "low high", "ratio_range")
    return (
        Column("estimate", "estimate", "number", 2),
        Column("from", "low", "number", 2),
        Column("to", "high", "number", 2),
    )


def _clusters(made: Made) -> str:
    if made.fit.clusters is None or made.model.cluster_by == "none":
        return ""
    return f"; {made.fit.clusters:,} clusters ({made.model.cluster_by})"


def _p(value: float | None) -> str | None:
    return None if value is None or not math.isfinite(value) else p_value(value).removeprefix("p = ").removeprefix("p ")


def _finite(value: float | None) -> float | None:
    return value if value is not None and math.isfinite(value) else None
