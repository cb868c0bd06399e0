"""Text as a workbook's cell can hold it, and dates that every spreadsheet reads alike."""

from __future__ import annotations

import re
from datetime import date

# A workbook writes a character that XML cannot hold, or would change, as its code (ECMA-376 part 1, 22.9.2.19).
_ESCAPED = re.compile(r"_x[0-9A-Fa-f]{4}_")
_AWKWARD = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")
# Spreadsheets count a 29 February 1900 that never was: earlier days mean different things to different programs.
_FIRST_SAFE_DAY = date(1900, 3, 1)


def cell_text(text: str) -> str:
    """A text in the form in which a workbook keeps it, so that reading gives it back letter by letter."""
    return _AWKWARD.sub(lambda found: f"_x{ord(found.group()):04X}_", text)


def cell_date(day: date) -> date | str:
    """A date for a cell; as text where a date cell would not be read alike everywhere."""
    return day if day >= _FIRST_SAFE_DAY else day.isoformat()
