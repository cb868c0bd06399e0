"""Days that contradict each other within a row, where changing day and month over would cure it. Nothing is changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache

from registry.intake.log_mapping_targets import Target
from registry.intake.log_records import LogValue, RowValues
from registry.intake.log_records_complete import parent_of
from registry.intake.log_records_store import canonical
from registry.intake.log_records_visits import Case
from registry.intake.log_values_dates import swapped
from registry.schema.fields import Day
from registry.schema.lists_stone import ImagingPurpose
from registry.validation.field_words import hides, within_sentence
from registry.validation.findings import FindingList, Problem, Severity

# What cannot be before the operation that the row is about; an examination only where it is one afterwards.
_LATER = frozenset(
    {
        ("admission", "discharged_on"),
        ("drain", "removed_on"),
        ("complication", "onset_on"),
        ("patient", "died_on"),
        ("patient", "last_known_alive_on"),
        ("contact", "contacted_on"),
        ("stone_analysis", "reported_on"),
    }
)


# No log goes back further than those who kept it.
_LONG_AGO_Y = 60


@dataclass(frozen=True)
class _DayOf:
    """A day of a row with its cell."""

    target: Target
    value: LogValue
    day: date


def check_days(case: Case, findings: FindingList, today: date) -> None:
    """Report days that are in the wrong order where day and month changed over are the likely reason.

    One change that cures the row is an error that says the right day; two that do are a question.

    Args:
        case: the row.
        findings: takes what is found.
        today: the last day that can be past.
    """
    row = case.row
    birth = _day(row, ("patient_identity", "", "1"), "birth_date")
    operation = _day(row, ("operation", "", "1"), "operated_on")
    for one in _days(row):
        kind = one.target.info.kind
        if one.day > today and isinstance(kind, Day) and not kind.ahead:
            other = swapped(one.day)
            if other is not None and other <= today:
                _report(row, one, other, f"lies after today, {today}", findings)
    if operation is None or operation.day > today:
        return
    if today.year - operation.day.year > _LONG_AGO_Y:
        years = today.year - operation.day.year
        why = f"The operation lies {years} years back; a year of another century?"
        problem = Problem("log.day.long_ago", Severity.QUESTION, why, "the date with its right year")
        row.report(findings, operation.value.columns, problem)
    if birth is not None:
        _in_order(row, birth, operation, today, findings)
    for later in _afterwards(row):
        if later.day <= today:
            _in_order(row, operation, later, today, findings)


def _in_order(row: RowValues, early: _DayOf, late: _DayOf, today: date, findings: FindingList) -> None:
    if late.day >= early.day:
        return
    first, second = swapped(early.day), swapped(late.day)
    cures_first = first is not None and first <= late.day
    cures_second = second is not None and early.day <= second <= today
    name = within_sentence(early.target.info.label)
    if cures_first and cures_second:
        columns = early.value.columns + late.value.columns
        why = f"{late.target.info.label} is before the {name}; in one of the two, day and month may be changed over."
        right = "the right one of the two dates with its day and month in order"
        hidden = hides(early.target.info) or hides(late.target.info)
        row.report(findings, columns, Problem("log.day.swapped", Severity.QUESTION, why, right), hidden=hidden)
    elif cures_second and second is not None:
        _report(row, late, second, f"is before the {name}", findings)
    elif cures_first and first is not None:
        what = within_sentence(late.target.info.label)
        _report(row, early, first, f"is after the {what}", findings)


def _report(row: RowValues, one: _DayOf, right: date, what: str, findings: FindingList) -> None:
    hidden = hides(one.target.info)
    why = f"{one.target.info.label} {what}; with day and month changed over it would not be."
    problem = Problem("log.day.swapped", Severity.ERROR, why, "day and month in order" if hidden else str(right))
    row.report(findings, one.value.columns, problem, hidden=hidden)


def _days(row: RowValues) -> Iterator[_DayOf]:
    for key, values in row.values.items():
        for heading in values:
            if _is_day(key[0], heading) and (one := _day(row, key, heading)) is not None:
                yield one


@cache
def _is_day(table: str, heading: str) -> bool:
    return isinstance(Target(table, heading).info.kind, Day)


def _afterwards(row: RowValues) -> Iterator[_DayOf]:
    read = {parent_of(row, key, "examination") for key in row.statuses}
    for key, values in row.values.items():
        purpose = values.get("purpose")
        follows = purpose is not None and purpose.cell == ImagingPurpose.FOLLOW_UP.value
        for heading in values:
            scanned = key[0] == "examination" and heading == "examined_on" and (key in read or follows)
            if (scanned or (key[0], heading) in _LATER) and (one := _day(row, key, heading)) is not None:
                yield one


def _day(row: RowValues, key: tuple[str, str, str], heading: str) -> _DayOf | None:
    value = row.values.get(key, {}).get(heading)
    if value is None or not value.columns:
        return None
    day = value.cell if isinstance(value.cell, date) else canonical(key[0], heading, value.cell)
    if isinstance(day, str):  # a birth date is kept as text
        day = date.fromisoformat(day)
    if not isinstance(day, date):
        return None
    return _DayOf(Target(key[0], heading), value, date(day.year, day.month, day.day))
