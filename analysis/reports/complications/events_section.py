"""Every event counted, by grade and by kind: counts, and no rate."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.outcomes.complications.therapy_levels import GRADES
from analysis.reports.complications.grades_section import NOT_EVENTS
from analysis.reports.complications.rates import by_group
from analysis.reports.complications.units import Status, Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.report import Column, Section
from registry.schema.lists_outcome import ComplicationKind


def event_sections(units: Units, statuses: Sequence[Status], grouping: Grouping) -> list[Section]:
    """Two sections: `events` by grade, `event_kinds` by what happened; of all units that are due, reviewed or not."""
    return [_by_grade(units, statuses, grouping), _by_kind(units, statuses, grouping)]


def _by_grade(units: Units, statuses: Sequence[Status], grouping: Grouping) -> Section:
    """One row a group and window, its events of each grade beside each other."""
    rows: list[dict[str, Any]] = []
    disabled = units.events["used_suffix_d"].fillna(False).to_numpy(dtype=bool)
    for status in statuses:
        place, exact = _places(units, status, grouping), status.event_low == status.event_high
        for group, own in _groups(place, grouping):
            sure, maybe = own & status.event_sure, own & ~status.event_sure & (status.event_high > 0)
            counts = {
                grade: int((sure & exact & (status.event_low == number)).sum())
                for number, grade in enumerate(GRADES, start=1)
            }
            told = {**counts, "grade_not_known": int((sure & ~exact).sum()), "suffix_d": int((sure & disabled).sum())}
            rows.append(_row(units, group, status, told, sure) | {"unknown": int(maybe.sum())})
    columns = (
        *(Column(grade, grade, "count") for grade in GRADES),
        Column("suffix d", "suffix_d", "count"),
        Column("grade not known", "grade_not_known", "count"),
        Column("perhaps outside the window", "unknown", "count"),
    )
    return _section("events", "Events by grade", by_group(rows, grouping), (), columns)


def _by_kind(units: Units, statuses: Sequence[Status], grouping: Grouping) -> Section:
    rows: list[dict[str, Any]] = []
    what = units.events["what"].to_numpy(dtype=object)
    for status in statuses:
        place = _places(units, status, grouping)
        for group, own in _groups(place, grouping):
            for kind in ComplicationKind:
                marked = own & status.event_sure & (what == kind.value)
                if marked.any():
                    rows.append(_row(units, group, status, {"what": kind.label}, marked))
    return _section("event_kinds", "Events by kind", by_group(rows, grouping), (Column("what", "what"),), ())


def _places(units: Units, status: Status, grouping: Grouping) -> Any:
    of = units.events["unit"].to_numpy(dtype=np.int64)
    return np.where(status.due[of], grouping.codes[of], -1)


def _groups(place: Any, grouping: Grouping) -> list[tuple[dict[str, Any], Any]]:
    return [(group, place == at) for at, group in enumerate(grouping.as_dicts())]


def _row(units: Units, group: dict[str, Any], status: Status, told: dict[str, Any], marked: Any) -> dict[str, Any]:
    return {
        "group": group,
        "days": status.days,
        **told,
        "n": None,  # there is no denominator: these are counts
        "events": int(marked.sum()),
        "patients": int(units.events.loc[marked, "patient_id"].nunique()),
        "unknown": 0,
        "estimate": None,
        "low": None,
        "high": None,
    }


def _section(
    name: str, title: str, rows: list[dict[str, Any]], first: tuple[Column, ...], last: tuple[Column, ...]
) -> Section:
    return Section(
        name=name,
        title=f"{title}, of all that are due (counts of events)",
        rows=rows,
        columns=(
            Column("to day", "days"),
            *first,
            Column("events", "events", "count"),
            Column("patients", "patients", "count"),
            *last,
        ),
        notes=(NOT_EVENTS,),
    )
