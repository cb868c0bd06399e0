"""Numbers as logs hold them: with a decimal comma, in a unit that only the heading names, as hours and minutes."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from decimal import Decimal

from registry.intake.dates import NotReadError
from registry.intake.log_cells import LogCell
from registry.intake.values import Cell
from registry.validation.findings import shortened

CLOCK_UNITS = ("h:mm", "m:ss")
FEET_AND_INCHES = "ft in"
FEET = r"\d{1,2}\s*(?:'|′|’|ft\.?|feet|foot)(?:\s*\d{1,2}(?:\.\d+)?\s*(?:\"|″|”|''|in\.?|inch(?:es)?)?)?"
_INCHES = 12
# What the smaller part of each is called, so that the field's own reader converts it.
_PARTS = {"h:mm": ("h", "min"), "m:ss": ("min", "s")}
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)(?::([0-5]\d)(?:[.,]0+)?)?(?:\s*(?:h|hrs?|min))?", re.IGNORECASE)
_WORDS = re.compile(r"(\d{1,3})\s*h(?:rs?|ours?)?\s*(\d{1,2})?\s*(?:m|min|mins|minutes)?", re.IGNORECASE)
_BARE = re.compile(r"[+−-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?")
_FEET = re.compile(r"(\d+)\D+?(?:(\d+(?:\.\d+)?)\D*)?", re.DOTALL)
_COMMA = re.compile(r"(?P<number>[+−-]?(?:\d{1,3}(?:\.\d{3})+|\d+)(?:,\d+)?|[+−-]?,\d+)(?P<rest>.*)", re.DOTALL)


def number_cell(cell: LogCell, text: str, decimal: str, unit: str) -> Cell:
    """A number for the field's own reader: with a point for decimals, and with its unit where the column names one.

    Args:
        cell: the log's cell.
        text: what stands in it.
        decimal: the column's decimal mark.
        unit: what a bare number is in; "" for the field's own unit.
    """
    value = cell.value
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        if not unit:
            return value
        return f"{int(value) if float(value).is_integer() else repr(value)} {unit}"
    if isinstance(value, datetime | time | timedelta):
        return value
    if decimal == ",":
        text = point_for_comma(text)
    return f"{text} {unit}" if unit and _BARE.fullmatch(text) else text


def point_for_comma(text: str) -> str:
    """A number typed with a decimal comma, with a point instead; a text that is none as it is.

    ``1.234,5`` is 1234.5 and ``1.234`` is 1234, because the column's comma marks decimals; ``12.5`` can be nothing
    else than 12.5 and stays.
    """
    found = _COMMA.fullmatch(text.strip())
    if found is None or re.match(r"[.,\d]", found["rest"]):
        return text
    return found["number"].replace(".", "").replace(",", ".") + found["rest"]


def feet_cell(cell: LogCell) -> Cell:
    """Feet and inches as inches: 5'11" is ``71 in``; a text in another unit as it is.

    Raises:
        NotReadError: the cell holds a bare number, which could be either, or a foot with more than eleven inches.
    """
    text = cell.text.strip()
    found = _FEET.fullmatch(text) if re.fullmatch(FEET, text, re.IGNORECASE) else None
    if found is not None and Decimal(found[2] or 0) < _INCHES:
        return f"{int(found[1]) * _INCHES + Decimal(found[2] or 0)} in"
    if found is None and isinstance(cell.value, str) and not _BARE.fullmatch(text):
        return text
    right = "feet and inches as 5'11\""
    raise NotReadError(f"'{shortened(text)}' is not {right}.", right, "unit")


def clock_cell(cell: LogCell, unit: str) -> str | int | float:
    """Hours and minutes, or minutes and seconds, as a number with its unit: 1:30 is ``90 min``.

    Raises:
        NotReadError: the cell is neither.
    """
    value = cell.value
    larger, smaller = _PARTS[unit]
    if isinstance(value, datetime) and value.year <= 1904:  # a length of time of a day or more, in a date's clothes
        value = value - datetime(1899, 12, 31)
    if isinstance(value, time):
        value = timedelta(hours=value.hour, minutes=value.minute, seconds=value.second)
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        # A spreadsheet takes 2:35 for hours and minutes, whatever was meant; with seconds it was typed in full.
        if unit == "m:ss" and seconds % 60 == 0:
            seconds //= 60
        return f"{seconds} s" if unit == "m:ss" else _minutes(seconds)
    found = _CLOCK.fullmatch(cell.text.strip())
    if found is not None:
        one, two, three = int(found[1]), int(found[2]), found[3]
        if three is None:
            return f"{one * 60 + two} {smaller}"
        seconds = one * 3600 + two * 60 + int(three)
        return f"{seconds} s" if unit == "m:ss" else _minutes(seconds)
    words = _WORDS.fullmatch(cell.text.strip()) if unit == "h:mm" else None
    if words is not None:
        return f"{int(words[1]) * 60 + int(words[2] or 0)} min"
    right = f"{larger} and {smaller} as 1:30"
    raise NotReadError(f"'{shortened(cell.text.strip())}' is not {right}.", right, "unit")


def _minutes(seconds: int) -> str:
    return f"{seconds // 60} min" if seconds % 60 == 0 else f"{seconds} s"
