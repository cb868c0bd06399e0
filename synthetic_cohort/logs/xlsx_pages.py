"""Writes a log's pages as a workbook with what real ones have: merged heads, hidden rows and sheets, formulas, errors.

Part by part and by hand, because stored results of formulas and dates counted from 1904 are what a general library
cannot write, and so that the same pages give the same bytes. The parts follow ECMA-376 part 1, SpreadsheetML.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date
from xml.sax.saxutils import escape, quoteattr

from registry.schema.xlsx_parts import letters
from synthetic_cohort.logs.grid import Cell, ErrorCell, Formula, Page

_STILL = (1980, 1, 1, 0, 0, 0)
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_FROM_1900, _FROM_1904 = date(1899, 12, 30).toordinal(), date(1904, 1, 1).toordinal()
_STYLES = (
    f'{_HEAD}<styleSheet xmlns="{_MAIN}"><numFmts count="1"><numFmt numFmtId="164" formatCode="dd/mm/yyyy"/></numFmts>'
    '<fonts count="1"><font><sz val="11"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>'
    '</fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="2"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    '<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)


def serial(day: date, *, epoch_1904: bool) -> int:
    """The number by which a spreadsheet keeps a day."""
    return day.toordinal() - (_FROM_1904 if epoch_1904 else _FROM_1900)


def workbook_bytes(pages: Sequence[Page]) -> bytes:
    """The pages of one file as a workbook."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as package:
        for name, content in _frame(pages).items():
            package.writestr(_entry(name), content.encode(), zipfile.ZIP_DEFLATED, compresslevel=6)
        for number, page in enumerate(pages, start=1):
            package.writestr(_entry(f"xl/worksheets/sheet{number}.xml"), _sheet(page).encode(), zipfile.ZIP_DEFLATED, 6)
    return made.getvalue()


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _STILL)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def _sheet(page: Page) -> str:
    rows = []
    for at, line in enumerate(page.lines, start=1):
        cells = [_cell(f"{letters(n)}{at}", cell, page) for n, cell in enumerate(line.cells)]
        hidden = ' hidden="1"' if line.hidden else ""
        rows.append(f'<row r="{at}"{hidden}>{"".join(cells)}</row>')
    merged = "".join(f'<mergeCell ref="{letters(c)}{r + 1}:{letters(d)}{s + 1}"/>' for r, c, s, d in page.merged)
    merges = f'<mergeCells count="{len(page.merged)}">{merged}</mergeCells>' if merged else ""
    return f'{_HEAD}<worksheet xmlns="{_MAIN}"><sheetData>{"".join(rows)}</sheetData>{merges}</worksheet>'


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


def _frame(pages: Sequence[Page]) -> dict[str, str]:
    numbers = range(1, len(pages) + 1)
    parts = "".join(
        f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_TYPE}.worksheet+xml"/>' for n in numbers
    )
    links = "".join(
        f'<Relationship Id="rId{n}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in numbers
    )
    listed = "".join(
        f'<sheet name={quoteattr(page.title)} sheetId="{n}"{_hidden(page)} r:id="rId{n}"/>'
        for n, page in zip(numbers, pages, strict=True)
    )
    epoch = '<workbookPr date1904="1"/>' if any(page.epoch_1904 for page in pages) else "<workbookPr/>"
    styles = len(pages) + 1
    return {
        "[Content_Types].xml": (
            f'{_HEAD}<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            '<Default Extension="xml" ContentType="application/xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPE}.sheet.main+xml"/>{parts}'
            f'<Override PartName="/xl/styles.xml" ContentType="{_TYPE}.styles+xml"/></Types>'
        ),
        "_rels/.rels": (
            f'{_HEAD}<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
            f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ),
        "xl/workbook.xml": (
            f'{_HEAD}<workbook xmlns="{_MAIN}" xmlns:r="{_OFFICE}">{epoch}<sheets>{listed}</sheets></workbook>'
        ),
        "xl/_rels/workbook.xml.rels": (
            f'{_HEAD}<Relationships xmlns="{_PACKAGE}/relationships">{links}<Relationship Id="rId{styles}" '
            f'Type="{_OFFICE}/styles" Target="styles.xml"/></Relationships>'
        ),
        "xl/styles.xml": _STYLES,
    }


def _hidden(page: Page) -> str:
    return ' state="hidden"' if page.hidden else ""
