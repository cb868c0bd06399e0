"""Writes a log's pages as a workbook with what real ones have: merged heads, hidden rows and sheets, formulas, errors.

Part by part and by hand, because stored results of formulas and dates counted from 1904 are what a general library
cannot write, and so that the same pages give the same bytes. The parts follow ECMA-376 part 1, SpreadsheetML.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date
from xml.sax.saxutils import escape

from registry.schema.xlsx_parts import HEAD, MAIN, entry, frame, letters
from synthetic_cohort.logs.grid import Cell, ErrorCell, Formula, Page

_FROM_1900, _FROM_1904 = date(1899, 12, 30).toordinal(), date(1904, 1, 1).toordinal()


def serial(day: date, *, epoch_1904: bool) -> int:
    """The number by which a spreadsheet keeps a day."""
    return day.toordinal() - (_FROM_1904 if epoch_1904 else _FROM_1900)


def workbook_bytes(pages: Sequence[Page]) -> bytes:
    """The pages of one file as a workbook."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as package:
        parts = frame(
            [page.title for page in pages],
            hidden={page.title for page in pages if page.hidden},
            epoch_1904=any(page.epoch_1904 for page in pages),
            dates="dd/mm/yyyy",
        )
        for name, content in parts.items():
            package.writestr(entry(name), content.encode(), zipfile.ZIP_DEFLATED, compresslevel=6)
        for number, page in enumerate(pages, start=1):
            package.writestr(entry(f"xl/worksheets/sheet{number}.xml"), _sheet(page).encode(), zipfile.ZIP_DEFLATED, 6)
    return made.getvalue()


def _sheet(page: Page) -> str:
    rows = []
    for at, line in enumerate(page.lines, start=1):
        cells = [_cell(f"{letters(n)}{at}", cell, page) for n, cell in enumerate(line.cells)]
        hidden = ' hidden="1"' if line.hidden else ""
        rows.append(f'<row r="{at}"{hidden}>{"".join(cells)}</row>')
    merged = "".join(f'<mergeCell ref="{letters(c)}{r + 1}:{letters(d)}{s + 1}"/>' for r, c, s, d in page.merged)
    merges = f'<mergeCells count="{len(page.merged)}">{merged}</mergeCells>' if merged else ""
    return f'{HEAD}<worksheet xmlns="{MAIN}"><sheetData>{"".join(rows)}</sheetData>{merges}</worksheet>'


def _cell(place: str, cell: Cell, page: Page) -> str:
    match cell.value:
        case None:
            return ""
        case Formula(text=text, result=result):
            kind = ' t="str"' if isinstance(result, str) else ""
            return f'<c r="{place}"{kind}><f>{escape(text)}</f><v>{escape(str(result))}</v></c>'
        case ErrorCell(text=text):
            return f'<c r="{place}" t="e"><f>1/0</f><v>{escape(text)}</v></c>'
        case date() as day:
            return f'<c r="{place}" s="1"><v>{serial(day, epoch_1904=page.epoch_1904)}</v></c>'
        case str() as text:
            kept = "" if text == text.strip() else ' xml:space="preserve"'
            return f'<c r="{place}" t="inlineStr"><is><t{kept}>{escape(text)}</t></is></c>'
        case value:
            return f'<c r="{place}"><v>{value!r}</v></c>'
