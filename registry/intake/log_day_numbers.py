"""Days that a spreadsheet shows as plain numbers, because the cell has lost the format of a date.

A spreadsheet keeps a day as the number of days since the first one that its file counts from. In a column of dates such
a number is read as the day it is, and a note says so. Nothing else is: a year, a text of eight digits and a time of day
stay what they are, and are refused as before.
"""

from __future__ import annotations

from datetime import date, timedelta

from registry.intake.log_cells import LogCell
from registry.intake.log_mapping_targets import Target
from registry.schema.fields import Day, Secret
from registry.validation.findings import Problem, Severity

# No living patient and no log is older; a lower number may be a year.
_FIRST, _LAST = date(1920, 1, 1), date(2100, 1, 1)


def is_day(target: Target) -> bool:
    """A value goes where a day is wanted."""
    kind = target.info.kind
    return isinstance(kind, Day) or (isinstance(kind, Secret) and target.heading.endswith("_date"))


def day_for_number(cell: LogCell, day_zero: date) -> LogCell | None:
    """The cell as it would be with the format of a date; None where it holds no number of a day.

    Args:
        cell: the cell.
        day_zero: the day from which its file counts.
    """
    value = cell.value
    if isinstance(value, bool) or not isinstance(value, int | float) or not float(value).is_integer():
        return None
    if not (_FIRST - day_zero).days <= value <= (_LAST - day_zero).days:
        return None
    day = day_zero + timedelta(days=int(value))
    return LogCell(day.isoformat(), day, cell.note)


def was_number() -> Problem:
    """The note about such a cell; the day itself is not named, because it may be a birth date."""
    why = "The cell holds a day as a plain number, without the format of a date; it was read as that day."
    return Problem("log.cell.day_number", Severity.NOTE, why, "the cell formatted as a date")
