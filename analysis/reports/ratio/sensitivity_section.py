"""What becomes of the answer when a choice is made otherwise: the unknown, both sides at once, single clusters."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from analysis.estimators.confounding.e_value import METHOD, e_value
from analysis.estimators.regression.checks.model_checks import ModelChecks
from analysis.estimators.regression.fitted import NotEstimable
from analysis.reports.ratio.effects import contrasts, headline
from analysis.reports.ratio.fitting import Made, fitted
from analysis.reports.ratio.result_sections import effect_row
from analysis.reports.ratio.weighted import METHOD as WEIGHTED
from analysis.reports.ratio.weighted import weighted_by_known
from analysis.reports.sections.report import Column, Section
from registry.schema.errors import GravelbookError

MOST_OPERATORS = 40
COLUMNS = (
    Column("changed", "model"),
    Column("of", "effect"),
    Column("n", "n", "count"),
    Column("events", "events", "count"),
    Column("estimate", "estimate", "ratio"),
    Column("interval", "low high", "ratio_range"),
)
DIFFERENCES = (
    Column("changed", "model"),
    Column("of", "effect"),
    Column("n", "n", "count"),
    Column("estimate", "estimate", "number", 2),
    Column("from", "low", "number", 2),
    Column("to", "high", "number", 2),
)


def sensitivity_section(made: Made, frame: pd.DataFrame, checks: ModelChecks | None, contrast: Any) -> Section:
    """The adjusted effect under other choices, the model's own first.

    frame: rows with outcome and exposure known. contrast: the two values compared, or None.
    """
    asked, whole = _rows("as asked", made), made
    notes = ["Each row is the whole model fitted anew; events per parameter are looked at in the first alone."]
    if made.imputed:
        made = fitted(made.model, made.rows, frame, thin=True)
        asked += _rows("rows that lack a covariate left out", made)
        notes.append(
            "Covariates are imputed in the first row, in that without a single cluster and for the E-value; the others "
            "leave out rows that lack one."
        )
    rows = [
        *asked,
        *_unknown(made),
        *_weighted(made),
        *_one_side(made, frame),
        *_without_cluster(whole, checks),
        *_without_operator(made, frame),
        *_e_values(whole, contrast),
    ]
    if made.rows.kind == "yes_no":
        notes.append(
            "E-value: the risk ratio that an unmeasured confounder would need with exposure and outcome to explain "
            "the estimate away, or to move the interval's nearer end to 1."
        )
        notes.append(
            "Taking all unknown one way brackets what they could do when they do alike at every value of the exposure; "
            "unlike at different values they could do more. Weights mend only what the model's own terms explain."
        )
    notes += [f"No number, {row['model']}: {row['reason']}." for row in rows if row["reason"]]
    return Section(
        name="sensitivity",
        title="Sensitivity",
        rows=rows,
        columns=COLUMNS if made.fit.exponentiated else DIFFERENCES,
        definition={"e_value": METHOD, "weighted": WEIGHTED},
        notes=notes,
    )


def _rows(said: str, made: Made) -> list[dict[str, Any]]:
    return [{**effect_row(said, made, one, 0), "reason": None} for one in headline(made)]


def _refitted(said: str, made: Made, frame: pd.DataFrame) -> list[dict[str, Any]]:
    try:
        return _rows(said, fitted(made.model, made.rows, frame, thin=True))
    except GravelbookError as fault:
        return [_none(said, str(fault).removeprefix(f"{made.model.place}: "), len(frame))]


def _none(said: str, reason: str, n: int | None = None) -> dict[str, Any]:
    return {"model": said, "effect": None, "n": n, "estimate": None, "low": None, "high": None, "reason": reason}


def _unknown(made: Made) -> Iterator[dict[str, Any]]:
    if made.rows.kind != "yes_no":
        return
    whole = made.rows.frame
    exposed = whole[(whole["exposure_state"] == "known").to_numpy(dtype=bool)]
    words = {"lower": "every unknown outcome taken as no", "upper": "every unknown outcome taken as yes"}
    if made.model.outcome == "stone_free":
        words = {"lower": "every unknown side taken as failed", "upper": "every unknown side taken as free"}
    for bound, said in words.items():
        held = exposed[exposed[bound].notna()]
        held = held.assign(outcome=held[bound])
        yield from _refitted(said, made, held.reset_index(drop=True))


def _weighted(made: Made) -> Iterator[dict[str, Any]]:
    if made.rows.kind != "yes_no":
        return
    said = "weighted by the chance that the outcome is known"
    try:
        yield from _rows(said, weighted_by_known(made))
    except NotEstimable as fault:
        yield _none(said, str(fault))


def _one_side(made: Made, frame: pd.DataFrame) -> Iterator[dict[str, Any]]:
    said = "operations on both sides left out"
    alone = frame[(frame["bilateral"].astype(object) != "yes").to_numpy(dtype=bool)]
    if len(alone) == len(frame):
        yield _none(said, "there are none", len(frame))
        return
    yield from _refitted(said, made, alone.reset_index(drop=True))


def _without_cluster(made: Made, checks: ModelChecks | None) -> Iterator[dict[str, Any]]:
    if checks is None or made.cluster is None or made.exposure.shape == "spline" or not _as_checked(made):
        return
    found = checks.influence
    said = f"without the {made.model.cluster_by} that moves it most"
    if not found.without:
        yield _none(said, found.reason or "not worked out")
        return
    labels = [one.label for one in headline(made)]
    for label, one in zip(labels, found.without, strict=False):
        yield {
            "model": f"{said} ({found.left_out})",
            "effect": label,
            "measure": one.scale,
            "n": None,
            "unknown": 0,
            "estimate": one.estimate,
            "low": one.low,
            "high": one.high,
            "p": one.p,
            "reason": None,
        }


def _as_checked(made: Made) -> bool:
    """Whether the checks refit by the model's own method, so that their estimate without a cluster is comparable."""
    return made.model.fit == "firth" or made.model.cluster_method == "robust"


def _without_operator(made: Made, frame: pd.DataFrame) -> Iterator[dict[str, Any]]:
    """Each operator left out in turn; the fit that moves the first effect most is shown."""
    said = "without the operator that moves it most"
    who = made.frame["operator"].astype(object)
    many = [each for each in who.dropna().unique() if (who == each).any()]
    if made.model.cluster_by == "operator" and made.rows.kind == "yes_no" and _as_checked(made):
        return
    if not 2 <= len(many) <= MOST_OPERATORS:
        yield _none(said, f"there {'is one operator' if len(many) == 1 else f'are {len(many)} operators'}")
        return
    first = headline(made)[0]
    found: list[tuple[float, str, list[dict[str, Any]]]] = []
    for each in many:
        rows = _refitted(
            f"{said} ({each})", made, made.frame[(who != each).to_numpy(dtype=bool)].reset_index(drop=True)
        )
        if rows[0]["estimate"] is not None:
            found.append((_moved(rows[0]["estimate"], first.estimate, made), str(each), rows))
    if not found:
        yield _none(said, "no model is left without one")
        return
    yield from max(found, key=lambda one: (one[0], one[1]))[2]


def _moved(estimate: float, from_where: float, made: Made) -> float:
    if made.fit.exponentiated:
        return float(abs(np.log(estimate) - np.log(from_where)))
    return abs(estimate - from_where)


def _as_a_whole(made: Made) -> bool:
    """Whether the model tells risks of the whole cohort, not within a cluster alone."""
    return made.cluster is None or made.model.cluster_method != "mixed"


def _e_values(made: Made, contrast: Any) -> Iterator[dict[str, Any]]:
    """Of the contrast's standardised risk ratio; without one, of the effect as it stands."""
    if made.rows.kind != "yes_no":
        return
    said = "E-value"
    try:
        if contrast is not None and _as_a_whole(made):
            risk = contrasts(made, *contrast)[1]
            label, held = "the contrast's risk ratio", e_value(risk.estimate, risk.low, risk.high, scale="risk ratio")
        else:
            one = headline(made)[0]
            share = (made.events or 0) / made.n
            label = one.label
            held = e_value(one.estimate, one.low, one.high, scale="odds ratio", outcome_share=share)
    except (NotEstimable, ValueError) as fault:
        yield _none(said, str(fault))
        return
    for what, value in (("to explain the estimate", held.point), ("to move the interval to 1", held.limit)):
        yield {
            "model": f"{said}, {what}",
            "effect": f"{label}; {held.reading}",
            "measure": "E-value",
            "n": made.n,
            "events": None,
            "unknown": 0,
            "estimate": value,
            "low": None,
            "high": None,
            "reason": None,
        }
