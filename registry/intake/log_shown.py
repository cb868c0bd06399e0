"""A stored value as a person sees it, and one cell object for all cells that are alike."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, time, timedelta
from decimal import Decimal
from typing import Any

from registry.intake.log_cells import EMPTY, NUMBER_AS_TEXT, LogCell
from registry.intake.values import Cell

# Tabs and line breaks are part of what people type; other controls, halves of letters and lost letters are not.
_AWKWARD = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffd-\uffff]")
_NUMBER = re.compile(r"\s*[+-]?\d+(?:[.,]\d+)?\s*")
_WHOLE_BELOW = 1e15  # a spreadsheet keeps 15 digits
_SURELY_15_DIGITS = 16  # letters, with the point
_PLAIN_FROM, _PLAIN_BELOW = 1e-9, 1e21


def shown(value: Cell) -> str:
    """A value as text, as nearly as a person sees it.

    Numbers have at most 15 significant digits, so that 0.1 + 0.2 is 0.3, and no point where they are whole. Days are
    written 2024-05-03, moments 2024-05-03 08:30, lengths of time 26:30 (hours and minutes).
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return value
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, timedelta):
        return _length(value)
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d} {_clock(value.time())}"
    return _clock(value) if isinstance(value, time) else value.isoformat()


def _number(value: float) -> str:
    if abs(value) < _WHOLE_BELOW and value == int(value):
        return str(int(value))
    text = repr(value)
    if len(text) > _SURELY_15_DIGITS:
        text = repr(float(f"{value:.15g}"))
    if "e" in text and _PLAIN_FROM <= abs(value) < _PLAIN_BELOW:
        text = format(Decimal(text), "f")
    return text.removesuffix(".0")


def _clock(value: time) -> str:
    return value.isoformat("auto") if value.microsecond else f"{value:%H:%M:%S}".removesuffix(":00")


def _length(value: timedelta) -> str:
    seconds = abs(value) // timedelta(seconds=1)
    sign = "-" if value < timedelta(0) else ""
    minutes = f"{sign}{seconds // 3600}:{seconds // 60 % 60:02d}"
    return f"{minutes}:{seconds % 60:02d}" if seconds % 60 else minutes


class Cells(dict[Any, LogCell]):
    """From a value to its cell; a value that was there before gives the same cell, so a long column fits in memory.

    Attributes:
        awkward: the texts that hold a character which nobody types.
    """

    def __init__(self, make: Callable[[Any], LogCell]) -> None:
        super().__init__({"": EMPTY})
        self._make = make
        self.awkward: set[str] = set()

    def __missing__(self, value: Any) -> LogCell:
        if isinstance(value, str) and _AWKWARD.search(value):
            self.awkward.add(value)
        cell = self[value] = self._make(value)
        return cell


def typed_cell(text: str) -> LogCell:
    """A cell of a CSV file."""
    return LogCell(text, text)


def stored_cell(value: Any) -> LogCell:
    """A cell of a workbook."""
    if isinstance(value, str):
        return LogCell(value, value, NUMBER_AS_TEXT if _NUMBER.fullmatch(value) else "")
    return LogCell(shown(value), value)


def awkward_in(text: str) -> str:
    """The first character of a text that nobody types, as its code point."""
    found = _AWKWARD.search(text)
    return f"U+{ord(found.group()):04X}" if found else ""
