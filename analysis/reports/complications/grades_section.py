"""Who was reviewed, how many had a complication of each grade or worse, and the worst grade of each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analysis.estimators.proportions import proportion_interval
from analysis.outcomes.complications import proposal
from analysis.outcomes.complications.therapy_levels import GRADES, II, IIIA, IVA, I, V
from analysis.reports.complications.rates import (
    RATE_COLUMNS,
    Happened,
    HowCounted,
    by_group,
    rate_rows,
    reasons,
    under_known_share,
)
from analysis.reports.complications.units import Status, Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column, Section
from registry.schema.plurals import counted

MEASURES = (
    ("any complication", I),
    ("grade II or worse", II),
    ("grade III or worse", IIIA),
    ("grade IV or worse", IVA),
    ("grade V", V),
)
NOT_EVENTS = (
    "Operations or patients are counted, not events: a series can have more events than people with one, and events "
    "divided by people is no complication rate."
)
NONE = "none"
NAMED = 5
"""So many cases are named in the report, the rest in the list of cases."""


def grade_sections(
    units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted, notes: Sequence[str] = ()
) -> list[Section]:
    """Three sections: `review`, `grades` (at least each grade; notes stand first under it) and `worst` (each grade)."""
    return [
        _review(units, statuses, grouping, how),
        _at_least(units, statuses, grouping, how, notes),
        _worst(units, statuses, grouping, how),
    ]


def _review(units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted) -> Section:
    rows: list[dict[str, Any]] = []
    for status in statuses:
        for place, group in enumerate(grouping.as_dicts()):
            own = grouping.codes == place
            due = own & status.due
            n, seen = int(due.sum()), int((due & status.reviewed).sum())
            limits = proportion_interval(events=seen, n=n, method=how.interval, level=how.level)
            rows.append(
                {
                    "group": group,
                    "days": status.days,
                    "n": n,
                    "events": seen,
                    "estimate": seen / n if n else None,
                    "low": limits.low,
                    "high": limits.high,
                    "unknown": 0,
                    "by_death": int((due & status.by_death).sum()),
                    "unreviewed_with": int((due & ~status.reviewed & (status.low > 0)).sum()),
                    "not_due": int((own & ~status.due).sum()),
                }
            )
    return Section(
        name="review",
        title=f"Who was reviewed ({units.name}s)",
        rows=by_group(rows, grouping),
        columns=(
            Column("to day", "days", "count", free=True),
            Column("due", "n", "count"),
            Column("reviewed", "events", "count"),
            Column("share", "estimate", "percent"),
            Column("by death alone", "by_death", "count"),
            Column("unreviewed, with a known complication", "unreviewed_with", "count"),
            Column("not due", "not_due", "count"),
        ),
        definition={"unit": units.name},
        notes=("No complication recorded is not 'no complication': rates are among the reviewed, bounds beside.",),
    )


def _at_least(
    units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted, notes: Sequence[str]
) -> Section:
    rows: list[dict[str, Any]] = []
    for status in statuses:
        for measure, number in MEASURES:
            happened = Happened(
                yes=status.low >= number, no=status.high < number, looked=status.reviewed, due=status.due
            )
            rows += rate_rows(units, grouping, happened, how, {"days": status.days, "measure": measure})
    rows = by_group(rows, grouping)
    return Section(
        name="grades",
        title=f"Complications, worst grade at least ({units.name}s)",
        rows=rows,
        columns=(Column("to day", "days"), Column("worst grade", "measure"), *RATE_COLUMNS),
        definition={"id": proposal.RULE, "source": proposal.SOURCE, "unit": units.name},
        notes=(*notes, *_open_notes(units, statuses), *_named(units), *_bound_notes(rows), *reasons(rows), NOT_EVENTS),
    )


def _worst(units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted) -> Section:
    """How many have each worst grade, among the reviewed of whom it is known exactly."""
    rows: list[dict[str, Any]] = []
    for status in statuses:
        exact, own = status.low == status.high, status.due & status.reviewed
        for number, grade in enumerate((NONE, *GRADES)):
            made = proportion_rows(
                event=status.low == number,
                counted=own & exact,
                cluster=units.patient,
                grouping=grouping,
                interval=how.interval,
                level=how.level,
            )
            for place, row in enumerate(made):
                unknown = int((own & ~exact & (grouping.codes == place)).sum())
                rows.append({**row, "days": status.days, "worst": grade, "unknown": unknown})
    return Section(
        name="worst",
        title=f"Worst grade of each, among the reviewed ({units.name}s)",
        rows=by_group(rows, grouping),
        columns=(
            Column("to day", "days"),
            Column("worst grade", "worst"),
            Column("n", "n", "count"),
            Column("with", "events", "count"),
            Column("share", "estimate", "percent"),
            Column("interval", "low high", "percent_range"),
            Column("by patient", "low_clustered high_clustered", "percent_range"),
            Column("unknown", "unknown", "count", free=True),
        ),
        definition={"id": proposal.RULE, "source": proposal.SOURCE, "unit": units.name},
    )


def _open_notes(units: Units, statuses: Sequence[Status]) -> list[str]:
    notes = []
    for status in statuses:
        due = status.due[units.events["unit"].to_numpy(dtype="int64")]
        unsettled = int(((status.event_high > 0) & ~status.event_sure & due).sum())
        if unsettled:
            notes.append(
                f"{counted(unsettled, 'complication')} with an onset that does not settle the {status.days} days; what "
                "it would decide is unknown."
            )
        ungraded = int((status.event_sure & (status.event_low != status.event_high) & due).sum())
        if ungraded:
            notes.append(
                f"{counted(ungraded, 'complication')} within {status.days} days without one grade: counted for what is "
                "certain (an intervention of unrecorded anaesthesia is grade III or worse), else unknown."
            )
    return notes


def _named(units: Units) -> list[str]:
    """What keeps complications from one grade, or contradicts itself, case by case; the first few in words."""
    found = []
    for row in units.events.drop_duplicates("complication_id").to_dict("records"):
        lacking = [f"{what} not recorded" for what in row["missing"] if row["used"] is None]
        told = [*row["contradictions"], *lacking]
        if told:
            number = f"operation {row['operation_id']}, complication {row['complication_number']}"
            found.append(f"{number} ({row['what'].replace('_', ' ')}): {', '.join(told)}")
    if not found:
        return []
    more = f"; and {len(found) - NAMED} more, which the cases name" if len(found) > NAMED else ""
    return [f"Contradictory or without one grade ({len(found)}): {'; '.join(found[:NAMED])}{more}."]


def _bound_notes(rows: Sequence[dict[str, Any]]) -> list[str]:
    count = under_known_share(rows)
    if not count:
        return []
    return [
        f"{counted(count, 'rate')} among the reviewed under the share of all that are known to have had it: the "
        "unreviewed are known to have had more, so that the reviewed do not stand for all."
    ]
