"""The proposals of the rule for every complication of a registry, from columns to columns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any, Literal

import pandas as pd

from analysis.outcomes.complications.event import Event, Given
from analysis.outcomes.complications.proposal import DEATH_DAYS, propose
from analysis.outcomes.complications.therapy_levels import LocalChoices
from registry.schema.lists_operation import Anaesthesia
from registry.schema.lists_outcome import TherapyAnaesthesia

COLUMNS = (
    "complication_id",
    "state",
    "proposal",
    "proposal_low",
    "proposal_high",
    "proposal_suffix_d",
    "rule",
    "deciding",
    "missing",
    "flags",
    "contradictions",
)
Death = Literal["none", "before", "near", "later"]
REGIONAL = {Anaesthesia.SPINAL: TherapyAnaesthesia.REGIONAL, Anaesthesia.EPIDURAL: TherapyAnaesthesia.REGIONAL}
"""Anaesthesia of an operation that the list of therapies calls otherwise."""


def proposals(
    complications: pd.DataFrame,
    therapies: pd.DataFrame,
    deaths: pd.DataFrame,
    operations: pd.DataFrame,
    choices: LocalChoices | None = None,
) -> pd.DataFrame:
    """One row a complication, in the order given.

    complications: complication_id, operation_id, patient_id, what, onset_low, onset_high, organs_failing,
    present_at_discharge, died_of_it. therapies: complication_id, what, anaesthesia, planned and operated_under
    (the anaesthesia of the operation that the therapy was). deaths: patient_id,
    on_low, on_high. operations: operation_id and operated_on, from which the onset counts when none is recorded.

    Columns: state (graded, not computable, no complication), proposal (grade or missing), proposal_low and
    proposal_high (the lowest and highest grade number left open, 0 for no complication), proposal_suffix_d, rule,
    deciding, and missing, flags and contradictions as tuples of words.
    """
    given = _given(therapies)
    died: dict[Any, Any] = {row.patient_id: (row.on_low, row.on_high) for row in deaths.itertuples(index=False)}
    operated = dict(zip(operations["operation_id"], operations["operated_on"], strict=True))
    rows = []
    for row in complications.to_dict("records"):
        event = Event(
            what=str(row["what"]),
            therapies=given.get(row["complication_id"], ()),
            organs_failing=_or_none(row["organs_failing"]),
            died_of_it=_or_none(row["died_of_it"]),
            present_at_discharge=_or_none(row["present_at_discharge"]),
            death=_death(row, died.get(row["patient_id"]), operated[row["operation_id"]]),
        )
        made = propose(event, choices)
        rows.append(
            (
                row["complication_id"],
                made.state,
                made.grade,
                min(made.possible, default=0),
                max(made.possible, default=0),
                made.suffix_d,
                made.rule,
                made.deciding,
                made.missing,
                made.flags,
                made.contradictions,
            )
        )
    return pd.DataFrame(rows, columns=list(COLUMNS)).astype(
        {"complication_id": "int64", "proposal_low": "int64", "proposal_high": "int64", "proposal_suffix_d": "boolean"}
    )


def _given(therapies: pd.DataFrame) -> dict[int, tuple[Given, ...]]:
    found: dict[int, list[Given]] = {}
    for row in therapies.to_dict("records"):
        under = _or_none(row["operated_under"])
        one = Given(
            what=str(row["what"]),
            anaesthesia=_or_none(row["anaesthesia"]),
            planned=_or_none(row["planned"]),
            operated_under=REGIONAL.get(under, under),
        )
        found.setdefault(row["complication_id"], []).append(one)
    return {key: tuple(rows) for key, rows in found.items()}


def _death(row: Mapping[Any, Any], died: tuple[pd.Timestamp, pd.Timestamp] | None, operated: pd.Timestamp) -> Death:
    """Where the death lies to the onset; what the dates leave open counts as near."""
    if died is None:
        return "none"
    low = operated if pd.isna(row["onset_low"]) else row["onset_low"]
    high = low if pd.isna(row["onset_high"]) else row["onset_high"]
    if died[1] < low:
        return "before"
    return "near" if died[0] <= high + dt.timedelta(days=DEATH_DAYS) else "later"


def _or_none(value: Any) -> Any:
    return None if pd.isna(value) else value
