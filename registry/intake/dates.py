"""Calendar dates and moments as people type them. One form a field; nothing is guessed from the other rows."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from registry.validation.findings import shortened

_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_MONTH = re.compile(r"(\d{4})[-/.](\d{1,2})")
_YEAR = re.compile(r"\d{4}")
_YEAR_LAST = re.compile(r"(\d{1,2})[-/. ](\d{1,2})[-/. ](\d{4}|\d{2})")
FIRST_YEAR, LAST_YEAR = 1000, 9999


class NotReadError(ValueError):
    """A cell could not be read; the message is a sentence for the person who typed it, ``right`` says what to type."""

    def __init__(self, why: str, right: str = "", rule: str = "type") -> None:
        super().__init__(why)
        self.why, self.right, self.rule = why, right, rule


def read_day(text: str, *, imprecise: bool) -> tuple[date, str]:
    """A date and its precision (``day``, ``month``, ``year``) from text.

    Args:
        text: as typed: 2024-05-03, and where ``imprecise`` 2024-05 or 2024.
        imprecise: the month or the year alone is allowed.

    Raises:
        NotReadError: the text is no date, or could be two.
    """
    typed = text.strip()
    if found := _YEAR_FIRST.fullmatch(typed):
        return _day(*map(int, found.groups())), "day"
    if found := _MONTH.fullmatch(typed):
        year, month = map(int, found.groups())
        first = _day(year, month, 1)
        if not imprecise:
            raise NotReadError(f"{typed} names a month; this date has to be known to the day.", f"a day, as {first}")
        return first, "month"
    if _YEAR.fullmatch(typed):
        if not imprecise:
            raise NotReadError(f"{typed} names a year; this date has to be known to the day.", "a day, as 2024-05-03")
        return _day(int(typed), 1, 1), "year"
    if found := _YEAR_LAST.fullmatch(typed):
        raise _year_last(typed, *map(int, found.groups()))
    raise NotReadError(
        f"'{shortened(typed)}' is not a date.", "a date cell, or text with the year first, as 2024-05-03"
    )


def _day(year: int, month: int, day: int) -> date:
    try:
        if not FIRST_YEAR <= year <= LAST_YEAR:
            raise ValueError
        return date(year, month, day)
    except ValueError:
        raise NotReadError(f"{year:04d}-{month:02d}-{day:02d} is not in the calendar.", "a day that exists") from None


def _year_last(typed: str, first: int, second: int, year: int) -> NotReadError:
    full = year if year > 99 else 2000 + year
    readings = []
    for month, day in ((second, first), (first, second)):
        try:
            readings.append(date(full, month, day).isoformat())
        except ValueError:
            continue
    readings = list(dict.fromkeys(readings))
    right = f"with the year first: {' or '.join(readings)}" if readings else "a day that exists, with the year first"
    if len(readings) == 2:
        return NotReadError(f"'{typed}' can be two days: nothing says which number is the day.", right)
    return NotReadError(f"'{typed}' has the day or the month first; only one form is read, the year first.", right)


def read_moment(text: str) -> datetime:
    """A date and time from text: aware when an offset was typed, else as the clock on the wall showed it.

    Raises:
        NotReadError: the text is no date with a time.
    """
    typed = text.strip()
    right = "a date and time as 2024-05-03 08:30 or 2024-05-03T08:30+02:00"
    if _YEAR_FIRST.fullmatch(typed):
        raise NotReadError(f"{typed} has no time of day.", right)
    try:
        moment = datetime.fromisoformat(typed)
    except ValueError:
        raise NotReadError(f"'{shortened(typed)}' is not a date with a time.", right) from None
    return moment.astimezone(UTC) if moment.tzinfo else moment


def in_zone(wall: datetime, zone: ZoneInfo) -> datetime:
    """A time on the wall of a place, in UTC.

    Raises:
        NotReadError: the clocks changed in that hour, so that the time happened twice or never.
    """
    moments = {wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    real = [m for m in moments if m.astimezone(zone).replace(tzinfo=None) == wall]
    if len(real) == 1:
        return real[0]
    happened = "twice" if real else "never"
    raise NotReadError(
        f"{wall:%Y-%m-%d %H:%M} happened {happened} in {zone.key}: the clocks changed.",
        "the same moment with its offset from UTC, as 2024-05-03T08:30+02:00",
    )


def day_of(moment: datetime) -> date:
    """The day of a date cell, which spreadsheets keep with a time of midnight.

    Raises:
        NotReadError: the cell holds a time of day as well.
    """
    if moment - datetime(moment.year, moment.month, moment.day) != timedelta(0):
        raise NotReadError(f"{moment:%Y-%m-%d %H:%M:%S} has a time of day; this field is a day.", f"{moment:%Y-%m-%d}")
    return moment.date()
