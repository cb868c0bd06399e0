"""Infection after the operation: what was computed and what was recorded, side by side, one row an operation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from analysis.cohort.sql import observations
from analysis.cohort.subjects import subject_frames
from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.infection.judged import InfectionJudged, judge
from analysis.outcomes.infection.sofa import SOFA
from analysis.reports.complications.answer_rows import answer_rows
from analysis.reports.complications.clinical_options import infection_rules
from analysis.reports.complications.operation_units import operation_units
from analysis.reports.request.grouping import grouped
from analysis.reports.request.source import Asked
from analysis.reports.request.splits import Split
from analysis.reports.sections.report import Column, Section

EARLY_DAYS = 2
COLUMNS = (
    Column("what", "what"),
    Column("days", "window"),
    Column("n", "n", "count"),
    Column("yes", "events", "count"),
    Column("rate", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
    Column("not computable", "unknown", "count"),
    Column("known otherwise", "known_otherwise_count", "count"),
    Column("not due", "not_due", "count"),
    Column("if all no to all yes", "lower upper", "percent_range"),
)
RECORDED_WORDS = (
    "A complication of that kind recorded with its onset in the window (fever: fever or febrile urinary infection). No "
    "only when complications up to the window's last day, or death, were reviewed"
)
NOTES = (
    "A rate is among the operations in which the outcome can be told, and where it hangs on what was recorded, among "
    "those reviewed. The last column says what the rate of all would be if all that cannot be told had no such "
    "outcome, or all had it; events known without a review are in it. n, not computable, known otherwise "
    "(answered, but not among the reviewed) and not due (the window is not over) make up all operations. Where "
    "measurements are made because a patient is ill, the rate among those measured is too high; a sepsis that needs "
    "measurements nobody made is in no rate.",
    "Computed and recorded outcomes are never mixed. No record is a no only where the case was reviewed; no "
    "temperature is not a normal temperature. Values of one calendar day are taken together.",
)


def infection_section(
    asked: Asked,
    by: Sequence[Split],
    level: float,
    interval: ProportionMethod,
    days: Sequence[int],
    settings: Mapping[str, str],
) -> Section:
    """Fever, febrile infection, SIRS, qSOFA, sepsis by either definition, septic shock, and what was recorded.

    by: columns to split by. level, interval: of the intervals. days: windows, day 0 to each; fever also within 48
    hours. settings: options named in `clinical_options`. Each row: group, what, definition (id), kind (computed or
    recorded), window (its last day), n, unknown, not_computable (missing inputs: number),
    known_otherwise (yes and no), known_otherwise_count, not_due, events, estimate, low, high, low_clustered,
    high_clustered, clusters, lower, upper;
    sepsis_definition names the definition of rows about sepsis. Raises
    MalformedOptionError, and GravelbookError for a column that is not there.
    """
    rules = infection_rules(settings)
    units = operation_units(asked.cohort.sides_frame, by, settings)
    frames = subject_frames(asked.snapshot, observations.SUBJECT, asked.cohort.as_of)
    rows: list[dict[str, Any]] = []
    definitions: dict[str, dict[str, Any]] = {}
    said: dict[str, str] = {}
    named: pd.DataFrame | None = None
    for window in sorted({EARLY_DAYS, *days}):
        made = judge(frames, rules, days=window, as_of=asked.cohort.as_of, operation_ids=units.operation_id)
        named = made.contradictions
        due = made.operations["due"].to_numpy(bool)
        grouping = grouped(units.side_id, due, asked.cohort.sides_frame, by)
        for outcome in made.outcomes:
            if window not in days and not outcome.definition.id.startswith("fever-"):
                continue
            definitions[outcome.definition.id] = outcome.definition.as_dict()
            if outcome.kind == "computed":
                said.update([outcome.definition.in_words()])
            for row in answer_rows(
                state=outcome.answer.state,
                missing=outcome.answer.missing,
                due=due,
                eligible=made.operations["reviewed"].to_numpy(bool) if outcome.of_reviewed else due,
                cluster=units.patient,
                grouping=grouping,
                interval=interval,
                level=level,
            ):
                rows.append(_labelled(row, outcome.definition.id, outcome.definition.label, outcome.kind, window))
    order = {name: at for at, name in enumerate(grouping.named())}
    rows.sort(key=lambda row: (_place(row["group"], order), row["window"]))
    return Section(
        name="infection",
        title="Infection after the operation, one row an operation",
        rows=rows,
        columns=COLUMNS,
        definition={
            "unit": "operation",
            "denominator": settings.get("denominator", "intended"),
            "level": level,
            "interval": interval,
            "definitions": {**definitions, SOFA.id: SOFA.as_dict()},
            "settings": {
                "fever_c": rules.fever_c,
                "fever_strict": rules.fever_strict,
                "culture_log10": rules.culture_log10,
                "baseline_days": rules.baseline_days,
            },
            "window": "day 0, the operation, to the last day of each row, by calendar days; 48 hours is day 0 to 2",
        },
        in_words=[
            ("Window", "From the operation (day 0) to the day that each row names; 48 hours is day 0 to 2"),
            ("Baseline", f"The last value in the {rules.baseline_days} days before the operation"),
            *said.items(),
            SOFA.in_words(),
            ("Recorded", RECORDED_WORDS),
        ],
        notes=[*NOTES, *contradiction_notes(named)],
    )


def infection_cases(asked: Asked, settings: Mapping[str, str]) -> pd.DataFrame:
    """One row an operation with every component, for the window `infection_days`.

    Columns: operation_id, study_number, operated_on, window_days, due, reviewed; the worst value of each measure in
    the window; the points of SIRS, qSOFA and SOFA on the day on which each stood highest (least and most where
    something is missing); the baseline of SOFA and what was assumed in it; for each outcome its state (yes, no, not
    computable) and `<id>_missing`; sepsis_definition, the ids of the definitions that the operation meets;
    contradictions, in words.
    """
    from analysis.reports.complications.clinical_options import infection_days
    from analysis.reports.complications.infection_cases import case_table

    rules, days = infection_rules(settings), infection_days(settings)
    units = operation_units(asked.cohort.sides_frame, (), settings)
    frames = subject_frames(asked.snapshot, observations.SUBJECT, asked.cohort.as_of)
    made: InfectionJudged = judge(frames, rules, days=days, as_of=asked.cohort.as_of, operation_ids=units.operation_id)
    return case_table(made)


def contradiction_notes(found: pd.DataFrame | None, shown: int = 5) -> list[str]:
    """Sets of observations that cannot be, the first few in words."""
    if found is None or found.empty:
        return []
    told = [
        f"operation {row.operation_id}, {row.observed_on:%Y-%m-%d}: {row.what}"
        for row in found.head(shown).itertuples(index=False)
    ]
    more = f"; and {len(found) - shown} more, which the cases name" if len(found) > shown else ""
    return [f"Contradictions in the observations ({len(found)}): {'; '.join(told)}{more}."]


def _labelled(row: dict[str, Any], definition: str, label: str, kind: str, window: int) -> dict[str, Any]:
    about_sepsis = {"sepsis_definition": definition} if definition.startswith(("sepsis", "septic")) else {}
    return {"what": label, "definition": definition, "kind": kind, "window": window, **about_sepsis, **row}


def _place(group: Mapping[str, Any], order: Mapping[str, int]) -> int:
    return order.get(", ".join(str(value) for value in group.values()) or "everyone", len(order))
