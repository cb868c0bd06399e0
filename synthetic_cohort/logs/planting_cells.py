"""Planted errors of the keyboard: one cell of a line is changed as it stands."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from synthetic_cohort.logs.error_kind import ErrorKind
from synthetic_cohort.logs.planting_lines import Spot

_LONG_WORD = 4


def _day_that_never_was(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("operation.operated_on")
    if cell is None or spot.rows != 1:
        return False
    on = spot.line.entry[0].on
    text = str(cell.value)
    if text.startswith(f"{on:%Y-%m-%d}"):
        cell.value = f"{on.year}-02-31{text[10:]}"
    elif text == f"{on:%m/%d/%Y}":
        cell.value = f"02/31/{on.year}"
    else:
        cell.value = {".": f"31.02.{on.year}", "/": f"31/02/{on.year % 100:02d}"}[spot.mark]
    return True


def _comment(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("operation.operating_min")
    if cell is None or spot.rows != 1:
        return False
    cell.value = f"{cell.value}min (scope swapped)"
    return True


def _letter_o(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("stone.attenuation_hu")
    if cell is None:
        return False
    text = str(cell.value)
    at = text.rfind("HU") if "HU" in text else len(text)
    digits = text[:at]
    cell.value = (digits.replace("0", "O") if digits.endswith("0") else digits[:-1] + "O") + text[at:]
    return True


def _copied_down(spot: Spot, kind: ErrorKind) -> bool:
    day, operator = spot.cell("operation.operated_on"), spot.cell("operation_operator.operator")
    if day is None or operator is None or spot.rows != 1:
        return False
    day.value = operator.value
    return True


def _negative(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("stone.length_mm")
    if cell is None:
        return False
    cell.value = f"-{cell.value}" if isinstance(cell.value, str) else -cell.value
    return True


def _clock(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("operation.operating_min")
    if cell is None or spot.rows != 1 or ":" not in str(cell.value):
        return False
    cell.value = f"{str(cell.value).split(':', maxsplit=1)[0]}:75"
    return True


def _cut_off(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("treated_side.technique")
    if cell is None or len(str(cell.value)) < _LONG_WORD:
        return False
    cell.value = str(cell.value)[:3]
    return True


def _two_values(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("stone.width_mm")
    if cell is None:
        return False
    cell.value = f"{cell.value}/7" if "x" not in str(cell.value) else f"{cell.value} / 7x5"
    return True


def _wrong_century(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("operation.operated_on")
    on = spot.line.entry[0].on
    if cell is None or spot.rows != 1 or (isinstance(cell.value, str) and str(on.year) not in cell.value):
        return False  # with two digits no year shows a century
    early = on.replace(year=on.year - 100, day=min(on.day, 28))
    text = str(cell.value)
    if text.startswith(f"{on:%Y-%m-%d}"):
        cell.value = f"{early:%Y-%m-%d}{text[10:]}"
    elif text == f"{on:%m/%d/%Y}":
        cell.value = f"{early:%m/%d/%Y}"
    else:
        cell.value = early if isinstance(cell.value, date) else f"{early:%d.%m.%Y}"
    return True


def _year_typo(spot: Spot, kind: ErrorKind) -> bool:
    cell, on = spot.cell("examination.examined_on"), spot.line.entry[0].scan.get("examined_on")
    if cell is None or on is None:
        return False
    year = f"{str(on.year)[:3]}0{str(on.year)[3:]}"
    text = str(cell.value)
    # Where the year stands in full among other words, it is that year which is mistyped.
    whole = isinstance(cell.value, str) and str(on.year) in text and spot.mark == "/"
    cell.value = text.replace(str(on.year), year) if whole else f"{on:%d}{spot.mark}{on:%m}{spot.mark}{year}"
    return True


def _unknown_word(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("renal_unit.unit")
    if cell is None or spot.rows != 1:
        return False
    cell.value = "lft" if spot.line.entry[0].unit == "left" else "rigth"
    return True


def _zeros_dropped(spot: Spot, kind: ErrorKind) -> bool:
    cell = spot.cell("hospital_number.number")
    if cell is None or spot.rows < 2 or spot.page.about != "case":
        return False
    digits: Any = int("".join(c for c in str(cell.value) if c.isdigit()))
    cell.value = digits if spot.style.workbook else str(digits)
    return True


CELL_CHANGES: dict[str, Callable[[Spot, ErrorKind], bool]] = {
    "day_that_never_was": _day_that_never_was,
    "comment_in_number": _comment,
    "letter_o_for_zero": _letter_o,
    "copied_down": _copied_down,
    "negative_size": _negative,
    "clock_that_never_was": _clock,
    "text_cut_off": _cut_off,
    "two_values_in_one_cell": _two_values,
    "wrong_century": _wrong_century,
    "date_as_year_typo": _year_typo,
    "unknown_word": _unknown_word,
    "leading_zero_dropped": _zeros_dropped,
}
