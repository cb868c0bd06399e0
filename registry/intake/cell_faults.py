"""Cells that hold an error or a formula without a result.

The reader of values gives such cells as blank, so a faulty formula would pass for a value that nobody typed. The
sheet's own text is searched for them; it is read in full only where it mentions a formula or an error.
"""

from __future__ import annotations

import re
import zipfile
from xml.etree import ElementTree

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_LINK = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_ADDRESS = re.compile(r"([A-Z]+)(\d+)")


def faults_of(package: zipfile.ZipFile, title: str) -> dict[tuple[int, int], str]:
    """The faulty cells of a sheet: (row number from 1, column number from 0) -> what is wrong, as a sentence."""
    part = part_of(package, title)
    if part is None:
        return {}
    text = package.read(part)
    if b'"e"' not in text and b"<f" not in text and b":f" not in text and b"'e'" not in text:
        return {}
    found: dict[tuple[int, int], str] = {}
    with package.open(part) as stream:
        for _, element in ElementTree.iterparse(stream):
            if element.tag == f"{_MAIN}c":
                fault = _fault(element)
                address = _ADDRESS.fullmatch(element.get("r", ""))
                if fault and address:
                    found[int(address[2]), _column(address[1])] = fault
            elif element.tag == f"{_MAIN}row":
                element.clear()
    return found


def _fault(cell: ElementTree.Element) -> str | None:
    value = cell.findtext(f"{_MAIN}v") or ""
    if cell.get("t") == "e":
        return f"The cell holds the error {value}, not a value."
    if cell.find(f"{_MAIN}f") is not None and not value and cell.get("t") != "str":
        return "The cell holds a formula that was never worked out."
    return None


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1


def part_of(package: zipfile.ZipFile, title: str) -> str | None:
    """The part of a workbook's package that holds a sheet's cells; None when there is none."""
    book = ElementTree.fromstring(package.read("xl/workbook.xml"))
    links = ElementTree.fromstring(package.read("xl/_rels/workbook.xml.rels"))
    for sheet in book.iter(f"{_MAIN}sheet"):
        if sheet.get("name") == title:
            for link in links:
                if link.get("Id") == sheet.get(_LINK):
                    target = link.get("Target", "")
                    part = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
                    return part if part in package.namelist() else None
    return None
