"""Models of the hazard: Cox's, cause-specific, for what goes with the event; Fine and Gray's for prediction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analysis.design.errors import DesignError
from analysis.design.matrix import Design, IntArray, design_of
from analysis.design.terms import Term
from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable, effect, wald_test
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.fine_gray import fine_gray
from analysis.estimators.survival.proportional_hazards_test import GLOBAL, ProportionalTest, proportional_hazards
from analysis.outcomes.follow_up.rules import EVENT
from analysis.reports.ratio.effects import shown
from analysis.reports.sections.report import Column, Section
from analysis.reports.time_to_event.followed import Followed, causes_of, days
from analysis.reports.time_to_event.group_tests import p_text

CAUSE_SPECIFIC = "hazard ratio (cause-specific)"
SUBDISTRIBUTION = "subdistribution hazard ratio"
READ = (
    "The cause-specific hazard ratio is of the rate of the event among those still free of everything, and is the one "
    "to read for what goes with the event; the subdistribution hazard ratio is of the cumulative incidence itself, for "
    "prediction. Neither is a ratio of risks."
)


@dataclass(frozen=True, eq=False)
class Modelled:
    """One model: name (crude, adjusted), its kind, its rows, the design and fit; or `reason` why there is none."""

    name: str
    scale: str
    rows: pd.DataFrame
    design: Design | None
    fit: Fitted | None
    proportional: tuple[ProportionalTest, ...]
    reason: str | None


def models_of(of: Followed, adjusters: Sequence[Term], events_per_parameter: float) -> list[Modelled]:
    """Cox crude (also on the rows of the adjusted, when these are fewer) and adjusted, then Fine and Gray's when
    something competes."""
    frame = of.at_risk
    made = [_model(of, "crude", frame, [], CAUSE_SPECIFIC, events_per_parameter)]
    if adjusters:
        adjusted = _model(of, "adjusted", frame, adjusters, CAUSE_SPECIFIC, events_per_parameter)
        if adjusted.design is not None and len(adjusted.design.rows) < len(frame):
            same = frame.iloc[adjusted.design.rows].reset_index(drop=True)
            made.append(_model(of, "crude, rows of the adjusted", same, [], CAUSE_SPECIFIC, events_per_parameter))
        made.append(adjusted)
    if of.competing:
        name = "adjusted" if adjusters else "crude"
        made.append(_model(of, name, frame, adjusters, SUBDISTRIBUTION, events_per_parameter))
    return made


def _model(
    of: Followed, name: str, frame: pd.DataFrame, adjusters: Sequence[Term], scale: str, wanted: float
) -> Modelled:
    try:
        design = design_of(frame, [of.exposure, *adjusters], outcome="time")
        kept = frame.iloc[design.rows]
        x, names = design.x[:, 1:], [column.label for column in design.columns[1:]]
        patient = kept["patient_id"].to_numpy()
        time, cause = days(kept), causes_of(kept)
        if scale == SUBDISTRIBUTION:
            fit = fine_gray(time, cause, x, names, of=EVENT, cluster=patient, events_per_parameter=wanted)
            return Modelled(name, scale, kept, design, fit, (), None)
        fit = cox(time, cause == EVENT, x, names, cluster=patient, events_per_parameter=wanted)
        together = [
            (term.column, (design.places(term.column) - 1).tolist())
            for term in design.terms
            if len(design.places(term.column)) > 1
        ]
        tests = proportional_hazards(fit, time, cause == EVENT, x, together=together)
    except (DesignError, NotEstimable) as fault:
        return Modelled(name, scale, frame, None, None, (), str(fault))
    return Modelled(name, scale, kept, design, fit, tests, None)


def hazard_section(of: Followed, models: Sequence[Modelled], contrast: tuple[Any, Any] | None, level: float) -> Section:
    """The effect of the exposure in each model; refusals as notes."""
    rows = [row for one in models for row in _rows(of, one, contrast, level)]
    notes = [f"{one.name}, {one.scale}: {one.reason}" for one in models if one.reason]
    notes += [f"{one.name}: {remark}" for one in models if one.fit is not None for remark in one.fit.remarks]
    if not of.competing:
        notes.append("Nobody had a competing event, so that Fine and Gray's model would be the same as Cox's.")
    if of.exposure.shape == "spline" and contrast is None:
        notes.append(
            "The columns of a spline have no meaning alone: name a contrast to see a hazard ratio of two values."
        )
    return Section(
        name="time_hazard",
        title=f"{of.options.rule.label.capitalize()} and {of.exposure.column}: hazard ratios",
        rows=rows,
        columns=(
            Column("model", "model"),
            Column("scale", "scale"),
            Column("", "what"),
            Column("p", "p_text"),
            Column("n", "n", "count", free=True),
            Column("events", "events", "count", free=True),
            Column("patients", "clusters", "count", free=True),
            Column("ratio", "estimate", "ratio"),
            Column("interval", "low high", "ratio_range"),
        ),
        definition={
            "level": level,
            "models": [
                {"model": one.name, "scale": one.scale, "formula": one.design.formula if one.design else None,
                 "fit": one.fit.kind if one.fit else None, "errors": one.fit.covariance_method if one.fit else None,
                 "dropped": dict(one.design.dropped) if one.design else None,
                 "levels": {name: list(each) for name, each in one.design.levels.items()} if one.design else None,
                 "knots": {name: list(each) for name, each in one.design.knots.items()} if one.design else None,
                 "reason": one.reason}
                for one in models
            ],
        },
        notes=(*notes, READ),
    )  # fmt: skip


def _rows(of: Followed, one: Modelled, contrast: tuple[Any, Any] | None, level: float) -> list[dict[str, Any]]:
    if one.fit is None or one.design is None:
        return []
    fit = one.fit
    common: dict[str, Any] = {
        "model": one.name, "scale": one.scale, "n": fit.n, "unknown": of.unknown + len(of.at_risk) - fit.n,
        "events": fit.events, "clusters": fit.clusters, "estimate": None, "low": None, "high": None, "p": None,
        "reason": None,
    }  # fmt: skip
    made = [
        {**common, "what": each.label, "estimate": each.estimate, "low": each.low, "high": each.high, "p": each.p}
        for each in _effects(of, one.design, fit, level)
    ]
    if contrast is not None:
        made.append({**common, **_contrasted(of, one.rows, one.design, fit, contrast, level)})
    places = one.design.places(of.exposure.column) - 1
    if len(places) > 1:
        made.append({**common, **_any_effect(fit, places, of.exposure.column)})
    return [{**row, "p_text": p_text(row["p"])} for row in made]


def _effects(of: Followed, design: Design, fit: Fitted, level: float) -> list[Effect]:
    """One for each column of the exposure; none of a spline, whose columns have no meaning alone."""
    if of.exposure.shape == "spline":
        return []
    places = design.places(of.exposure.column)
    return [effect(fit, _at(fit, at - 1), design.columns[at].label, level=level) for at in places]


def _contrasted(
    of: Followed, rows: pd.DataFrame, design: Design, fit: Fitted, contrast: tuple[Any, Any], level: float
) -> dict[str, Any]:
    label = f"{shown(contrast[0])} against {shown(contrast[1])}"
    try:
        found = effect(fit, _between(of, rows, design, contrast), label, level=level)
    except (DesignError, ValueError) as fault:
        return {"what": f"{label}: {fault}", "reason": str(fault)}
    return {"what": label, "estimate": found.estimate, "low": found.low, "high": found.high, "p": found.p}


def _any_effect(fit: Fitted, places: IntArray, label: str) -> dict[str, Any]:
    try:
        test = wald_test(fit, places, label)
    except NotEstimable as fault:
        return {"what": "any effect", "reason": str(fault)}
    return {"what": f"any effect ({test.test}, {test.df} df)", "p": test.p}


def _at(fit: Fitted, place: int) -> FloatArray:
    return np.asarray(np.arange(len(fit.names)) == place, dtype=np.float64)


def _between(of: Followed, rows: pd.DataFrame, design: Design, contrast: tuple[Any, Any]) -> FloatArray:
    """The columns at the first value less those at the second, all else alike."""
    two = rows.iloc[[0, 0]].copy()
    column = of.exposure.column
    if of.exposure.shape == "levels":
        two[column] = pd.Series([str(one) for one in contrast], index=two.index, dtype=object)
    else:
        values = rows[column].to_numpy(dtype=np.float64)
        outside = [one for one in contrast if not values.min() <= float(one) <= values.max()]
        if outside:
            raise ValueError(f"nothing is read off outside {values.min():.4g} to {values.max():.4g}")
        two[column] = [float(one) for one in contrast]
    first, second = design.encode(two)[:, 1:]
    return np.asarray(first - second, dtype=np.float64)


def proportional_section(of: Followed, models: Sequence[Modelled]) -> Section:
    """Whether hazard ratios stay the same over time: printed whenever there is a Cox model."""
    rows = []
    for one in models:
        if one.fit is None or one.design is None or one.scale != CAUSE_SPECIFIC:
            continue
        for test in one.proportional:
            if test.label == GLOBAL and test.df == 1:
                continue
            rows.append(
                {"model": one.name, "what": test.label, "n": one.fit.n, "unknown": of.unknown,
                 "estimate": test.statistic, "low": None, "high": None, "df": test.df, "p": test.p,
                 "p_text": p_text(test.p)}
            )  # fmt: skip
    notes = [
        "A small p says that the hazard ratio changes over time: it is then a mean over the follow-up that there was. "
        "The test takes rows as independent."
    ]
    if not rows:
        notes = ["There is no Cox model, and so nothing to test: its reason stands above."]
    return Section(
        name="time_proportional",
        title="Do hazard ratios stay the same over time?",
        rows=rows,
        columns=(
            Column("model", "model"),
            Column("", "what"),
            Column("p", "p_text"),
            Column("n", "n", "count", free=True),
            Column("chi-squared", "estimate", "number", digits=2),
            Column("df", "df", "count", free=True),
        ),
        definition={"method": "score test of a coefficient that changes with 1 - Kaplan-Meier of time (Grambsch, "
                    "Therneau 1994)"},
        notes=notes,
    )  # fmt: skip
