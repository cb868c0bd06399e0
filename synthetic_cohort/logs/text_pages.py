"""Writes a log's page as delimited text."""

from __future__ import annotations

import csv
import io
from datetime import date

from synthetic_cohort.logs.grid import Cell, ErrorCell, Formula, Page

BOM = b"\xef\xbb\xbf"


def text_bytes(page: Page, *, delimiter: str, encoding: str, bom: bool = False) -> bytes:
    """A page as text, lines ended as on most desks."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    for line in page.lines:
        writer.writerow([_shown(cell) for cell in line.cells])
    return (BOM if bom else b"") + out.getvalue().encode(encoding)


def _shown(cell: Cell) -> str:
    match cell.value:
        case None:
            return ""
        case Formula(result=result):
            return str(result)
        case ErrorCell(text=text):
            return text
        case date() as day:
            return f"{day:%d.%m.%Y}"
        case value:
            return str(value)
