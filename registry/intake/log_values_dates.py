"""Dates in declared forms: ``dd.mm.yyyy``, ``d mmm yyyy hh:mi``, ``yyyy-mm-ddThh:mi:ss``. Nothing else is read.

A text that fits two forms and would be two days, or that fits a form and is no day of the calendar, is refused; the
sentence says which days it could be. Years of two digits lie within the hundred years from a declared one.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import lru_cache

from registry.intake.dates import NotReadError
from registry.validation.findings import shortened

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
FULL_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july"),
    *("august", "september", "october", "november", "december"),
)
_PART = re.compile(r"yyyy|yy|mmmm|mmm|mm|mi|m|dd|d|hh|h|ss|t(?=h)|[a-z]+|\s+|.", re.IGNORECASE)
_MONTH_NAME = "|".join(sorted({*MONTHS, *FULL_MONTHS, "sept"}, key=lambda name: (-len(name), name)))
_DIGITS = {"yyyy": r"\d{4}", "yy": r"\d{2}", "mi": r"\d{2}", "ss": r"\d{2}"}
_MIDNIGHT = re.compile(r"(\d{4}-\d{1,2}-\d{1,2})[ T]0?0:00(?::00(?:[.,]0+)?)?")
_YEAR_FIRST = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}(?:[ T]\d{1,2}:\d{2}.*)?")
TimePoint = date | datetime | time | str
"""What a text in a declared form says: a day, a moment, a time of day, or the text of a month or year alone."""


class FormError(ValueError):
    """A form that cannot be used; the message says what is right."""


@dataclass(frozen=True)
class DateForm:
    """A declared form, ready for use."""

    text: str
    pattern: re.Pattern[str]
    parts: tuple[str, ...]


@lru_cache(maxsize=256)
def date_form(text: str) -> DateForm:
    """Read a form.

    Raises:
        FormError: it holds something other than d dd m mm mmm mmmm yy yyyy hh mi ss and signs between them, or lacks
            what a date needs.
    """
    tokens = _PART.findall(text.strip())
    expression, parts = "", []
    for number, token in enumerate(tokens):
        small = token.casefold()
        if small.isspace():
            expression += r"\s+"
        elif not small.isalpha() or small == "t":
            expression += rf"\s*{re.escape(token)}\s*"
        else:
            name = _part_name(small)
            if name is None or name in parts:
                raise FormError("a form made of d dd m mm mmm mmmm yy yyyy hh:mi, each once, as dd.mm.yyyy")
            parts.append(name)
            near = tokens[max(0, number - 1) : number] + tokens[number + 1 : number + 2]
            expression += f"(?P<{name}>{_digits(small, any(map(str.isalpha, near)))})"
    has = set(parts)
    # A month needs its year and a day its month; a time of day stands beside a date or alone.
    whole = has <= {"hour", "minute", "second"} or ("year" in has and not ("day" in has and "month" not in has))
    if not has or not whole or ("hour" in has) != ("minute" in has):
        raise FormError("a form with a year, as dd.mm.yyyy, mm/yyyy or yyyy, or a time of day, hh:mi")
    return DateForm(text, re.compile(expression, re.IGNORECASE), tuple(parts))


def read_in_forms(text: str, forms: tuple[str, ...], century_from: int) -> TimePoint:
    """What a text says in one of the declared forms; with the year first and four digits it needs none.

    Args:
        text: what stands in the cell.
        forms: the declared forms.
        century_from: the first of the hundred years that a year of two digits can be.

    Raises:
        NotReadError: it fits none of the forms, is no day of the calendar, or could be two days.
    """
    typed = " ".join(text.replace("\u00a0", " ").split())
    found: list[TimePoint] = []
    beyond: list[dict[str, int]] = []
    for form in map(date_form, forms):
        match = form.pattern.fullmatch(typed)
        if match is None:
            continue
        numbers = _numbers(match.groupdict(), century_from)
        try:
            value = _point(numbers)
        except ValueError:
            beyond.append(numbers)
            continue
        if value not in found:
            found.append(value)
    if len(found) == 1:
        return found[0]
    if found:
        days = " or ".join(map(str, found))
        why = f"'{shortened(typed)}' fits two of the declared forms and could be {days}."
        raise NotReadError(why, days, "two_days")
    if beyond:
        raise _no_day(typed, beyond[0])
    if _YEAR_FIRST.fullmatch(typed):
        return typed
    listed = f"in the form {' or '.join(forms)}" if forms else "in a form that the mapping declares under dates"
    raise NotReadError(f"'{shortened(typed)}' is not a date {listed}.", f"a date {listed}", "form")


def without_midnight(text: str) -> str:
    """A day that a system wrote as the moment at which it begins, 2024-03-05T00:00:00, as the day; else the text."""
    found = _MIDNIGHT.fullmatch(text)
    return text if found is None else found[1]


def swapped(day: date) -> date | None:
    """The day with day and month changed over; None where that is no other day."""
    if day.day == day.month:
        return None
    try:
        return day.replace(month=day.day, day=day.month)
    except ValueError:
        return None


def _part_name(token: str) -> str | None:
    names = {"d": "day", "dd": "day", "m": "month", "mm": "month", "mmm": "month", "mmmm": "month", "yy": "year"}
    return (names | {"yyyy": "year", "h": "hour", "hh": "hour", "mi": "minute", "ss": "second"}).get(token)


def _digits(token: str, beside: bool) -> str:
    """The digits of a part; a day typed with one digit is the same day, unless the digits run into each other."""
    if token in ("mmm", "mmmm"):
        return rf"(?:{_MONTH_NAME})\.?" if token == "mmm" else f"(?:{_MONTH_NAME})"
    if token in _DIGITS:
        return _DIGITS[token]
    return r"\d{2}" if beside and len(token) == 2 else r"\d{1,2}"


def _numbers(parts: dict[str, str], century_from: int) -> dict[str, int]:
    numbers = {}
    for name, text in parts.items():
        if not text[0].isdigit():
            numbers[name] = MONTHS.index(text[:3].casefold()) + 1
        elif name == "year" and len(text) == 2:
            numbers[name] = century_from + (int(text) - century_from) % 100
        else:
            numbers[name] = int(text)
    return numbers


def _point(numbers: dict[str, int]) -> TimePoint:
    hour, clock = numbers.get("hour", 0), (numbers.get("minute", 0), numbers.get("second", 0))
    if "year" not in numbers:
        return time(hour, *clock)
    year, month, day = numbers["year"], numbers.get("month"), numbers.get("day")
    if day is None or month is None:
        date(year, month or 1, 1)
        return f"{year:04d}-{month:02d}" if month is not None else f"{year:04d}"
    if "hour" not in numbers:
        return date(year, month, day)
    return datetime(year, month, day, hour, *clock)


def _no_day(typed: str, numbers: dict[str, int]) -> NotReadError:
    year, month, day = (numbers.get(name, 0) for name in ("year", "month", "day"))
    try:
        right = date(year, day, month)
    except ValueError:
        return NotReadError(f"'{shortened(typed)}' is not in the calendar.", "a day that exists", "calendar")
    why = f"'{shortened(typed)}' is not in the calendar by the declared form; day and month were changed over."
    return NotReadError(why, f"{right}", "swapped")
