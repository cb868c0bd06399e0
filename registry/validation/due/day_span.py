"""A date that is known to the month or the year, as the days that it can stand for."""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass

from registry.schema.lists_common import DatePrecision


@dataclass(frozen=True, slots=True)
class DaySpan:
    """The first and the last day that a recorded date can stand for."""

    low: dt.date
    high: dt.date

    @property
    def exact(self) -> bool:
        """The day is known."""
        return self.low == self.high

    def __str__(self) -> str:
        if self.exact:
            return self.low.isoformat()
        return str(self.low.year) if (self.high - self.low).days > 31 else f"{self.low:%Y-%m}"


def day_span(day: dt.date, precision: str | None) -> DaySpan:
    """The days that a date can stand for.

    Args:
        day: as stored: the first of the month or year when no more is known.
        precision: day, month, year, or None for a day.
    """
    if precision == DatePrecision.MONTH:
        return DaySpan(day, day.replace(day=calendar.monthrange(day.year, day.month)[1]))
    if precision == DatePrecision.YEAR:
        return DaySpan(day, day.replace(month=12, day=31))
    return DaySpan(day, day)
