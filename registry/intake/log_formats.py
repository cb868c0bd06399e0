"""Number formats that show leading zeros: 0000000 shows the stored 12 as 0000012, as hospital numbers are shown."""

from __future__ import annotations

import re
import zipfile
from xml.etree import ElementTree

from registry.intake.log_cells import LEADING_ZEROS, LogCell
from registry.intake.log_raw import Row

_STYLES = "xl/styles.xml"
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_SOME = re.compile(rb"""formatCode=["']00""")
_ZEROS = re.compile(r"(00+)(?:;.*)?")
_STYLED_CELL = re.compile(rb"""<(?:\w+:)?c\s(?=[^>]*\bs=["'](\d+)["'])[^>]*?\br=["']([A-Z]+)(\d+)["']""")


def zeros_by_style(package: zipfile.ZipFile) -> dict[int, int]:
    """How many digits a cell's style shows at least, by the style's number; empty for nearly every workbook."""
    if _STYLES not in package.namelist():
        return {}
    text = package.read(_STYLES)
    if not _SOME.search(text):
        return {}
    root = ElementTree.fromstring(text)
    digits = {
        form.get("numFmtId"): len(found[1])
        for form in root.iter(f"{_MAIN}numFmt")
        if (found := _ZEROS.fullmatch(form.get("formatCode", "")))
    }
    styles = root.find(f"{_MAIN}cellXfs")
    formats = [style.get("numFmtId") for style in styles] if styles is not None else []
    return {number: digits[form] for number, form in enumerate(formats) if form in digits}


def styled_cells(text: bytes, styles: dict[int, int]) -> list[tuple[int, bytes, int]]:
    """The row number, the letters and the digits of each cell that has one of these styles."""
    found = _STYLED_CELL.findall(text)
    return [(int(row), letters, styles[int(style)]) for style, letters, row in found if int(style) in styles]


def show_zeros(row: Row, at: int, digits: int) -> None:
    """Give a cell the text that its format shows."""
    cell = row[at]
    if isinstance(cell.value, float) and cell.value >= 0 and cell.text.isdigit():
        row[at] = LogCell(cell.text.zfill(digits), cell.value, cell.note or LEADING_ZEROS)
