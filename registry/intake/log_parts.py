"""What a workbook's sheet holds beside its values: hidden rows and columns, formulas, the day it counts from.

The reader of values does not show these. The sheet's own text is searched only where it mentions them.
"""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass, field
from datetime import date

from registry.intake.log_cells import DAY_ZERO_1900, DAY_ZERO_1904
from registry.intake.log_formats import styled_cells

_ROW = re.compile(rb"<(?:\w+:)?row\s([^>]*)>")
_COLUMNS = re.compile(rb"<(?:\w+:)?col\s([^>]*)>")
_FORMULA_CELL = re.compile(rb"""<(?:\w+:)?c\s[^>]*?\br=["']([A-Z]+)(\d+)["'][^>]*>\s*<(?:\w+:)?f[\s>/]""")
# Nearly every program writes the names of elements without a prefix; searching for those alone is ten times as fast.
_PLAIN, _FORMULA, _PREFIXED_FORMULA = b"<sheetData", re.compile(rb"<f[\s>/]"), re.compile(rb"<\w+:f[\s>/]")
# A formula's end with no result behind it; only where there is one is the sheet read element by element.
_NO_RESULT = re.compile(
    rb"(?:</(?:\w+:)?f>|<(?:\w+:)?f\b[^>]*/>)\s*(?:</(?:\w+:)?c>|<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</)"
)
_HIDDEN = re.compile(rb"""\bhidden=["'](?:1|true)["']""")
_NUMBER = re.compile(rb"""\br=["'](\d+)["']""")
_SPAN = re.compile(rb"""\b(min|max)=["'](\d+)["']""")
_FROM_1904 = re.compile(rb"""\bdate1904=["'](?:1|true)["']""")


@dataclass
class Beside:
    """What stands beside the values of a sheet.

    Attributes:
        hidden_rows: the numbers of hidden rows.
        hidden_columns: the hidden columns, from 0.
        formulas: row number and column from 0 of each cell that a formula fills.
        zeros: row number, column from 0 and digits of each cell that is shown with leading zeros.
        merged: some cells are merged.
        truths: some cells hold true or false.
        faulty: some cells may hold an error or a formula that was never worked out.
    """

    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: list[int] = field(default_factory=list)
    formulas: list[tuple[int, int]] = field(default_factory=list)
    merged: bool = False
    zeros: list[tuple[int, int, int]] = field(default_factory=list)
    truths: bool = False
    faulty: bool = False


def beside(package: zipfile.ZipFile, part: str, width: int, styles: dict[int, int]) -> Beside:
    """Search the part of a package that holds a sheet.

    Args:
        package: the workbook.
        part: the name of the part.
        width: how many columns hold cells; those hidden beyond are of no interest.
        styles: how many digits cells of a style show at least.
    """
    text = package.read(part)
    found = Beside(merged=b"mergeCell" in text, truths=b'="b"' in text or b"='b'" in text)
    if b"hidden=" in text:
        found.hidden_rows = {number for row in _ROW.findall(text) if (number := _hidden_row(row)) is not None}
        found.hidden_columns = [at for span in _COLUMNS.findall(text) for at in _hidden_columns(span, width)]
    if styles:
        found.zeros = [(row, _column(at), digits) for row, at, digits in styled_cells(text, styles)]
    found.faulty = b'"e"' in text or b"'e'" in text
    if (_FORMULA if _PLAIN in text else _PREFIXED_FORMULA).search(text):
        found.faulty = found.faulty or _NO_RESULT.search(text) is not None
        found.formulas = [(int(row), _column(letters)) for letters, row in _FORMULA_CELL.findall(text)]
    return found


def day_zero(package: zipfile.ZipFile) -> date:
    """The day from which a workbook counts its days: one of two, by a mark in the workbook."""
    return DAY_ZERO_1904 if _FROM_1904.search(package.read("xl/workbook.xml")) else DAY_ZERO_1900


def _hidden_row(attributes: bytes) -> int | None:
    number = _NUMBER.search(attributes)
    return int(number[1]) if number and _HIDDEN.search(attributes) else None


def _hidden_columns(attributes: bytes, width: int) -> range:
    span = {name: int(number) for name, number in _SPAN.findall(attributes)}
    if not _HIDDEN.search(attributes) or len(span) < len(("min", "max")):
        return range(0)
    return range(span[b"min"] - 1, min(span[b"max"], width))


def _column(letters: bytes) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number - 1
