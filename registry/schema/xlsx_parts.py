"""Writes plain rows as a workbook (.xlsx), part by part: the same rows give the same bytes.

It stands here because the registry's own workbook and the invented one are both written by it, and this is the only
room that both may import. A general spreadsheet library takes ten times as long and stamps the hour into the file.
Text is written in place as text, so that nothing a person typed ever becomes a formula. The parts follow ECMA-376
part 1, SpreadsheetML.
"""

from __future__ import annotations

import zipfile
from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime
from functools import cache, lru_cache
from itertools import islice
from typing import IO, Any
from xml.sax.saxutils import escape, quoteattr

Cells = Sequence[Any]

# The package format wants a date for every part; a fixed one keeps equal content equal to the byte.
_STILL = (1980, 1, 1, 0, 0, 0)
_EPOCH = date(1899, 12, 30).toordinal()
_DATE_STYLE = 1
_ROWS_AT_ONCE = 2000
_SHORT = 60  # longer texts are hardly ever written twice
_PRESERVED = ' xml:space="preserve"'
HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_FROZEN = (
    '<sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" '
    'state="frozen"/></sheetView></sheetViews>'
)
_DATES = "DATES"
_STYLES = (
    f'{HEAD}<styleSheet xmlns="{MAIN}"><numFmts count="1">'
    '<numFmt numFmtId="164" formatCode="DATES"/></numFmts>'
    '<fonts count="1"><font><sz val="11"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>'
    '</fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="2"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>'
    '<xf numFmtId="164" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>'
)


def write_sheets(stream: IO[bytes], pages: Iterable[tuple[str, Iterable[Cells]]], *, frozen: bool = True) -> int:
    """Write sheets, each row by row as it comes, so that a long sheet never stands in the memory whole.

    Args:
        stream: where the bytes go.
        pages: title and rows of each sheet, the headings being its first row. A cell is text, a whole or measured
            number, a day from 1 March 1900 on, or None. Text must hold nothing that XML cannot (control characters).
        frozen: the first row of each sheet stays in sight.

    Returns:
        How many rows were written, headings included.

    Raises:
        TypeError: a cell holds anything else.
    """
    titles: list[str] = []
    written = 0
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as package:
        for number, (title, rows) in enumerate(pages, start=1):
            titles.append(title)
            with package.open(entry(f"xl/worksheets/sheet{number}.xml"), "w", force_zip64=True) as part:
                part.write(f'{HEAD}<worksheet xmlns="{MAIN}">{_FROZEN if frozen else ""}<sheetData>'.encode())
                lines = (_line(at, cells) for at, cells in enumerate(rows, start=1))
                while piece := list(islice(lines, _ROWS_AT_ONCE)):
                    part.write("".join(piece).encode())
                    written += len(piece)
                part.write(b"</sheetData></worksheet>")
        for name, content in frame(titles).items():
            package.writestr(entry(name), content.encode(), zipfile.ZIP_DEFLATED, compresslevel=1)
    return written


@cache
def letters(number: int) -> str:
    """The letters of a column, the first being number 0: A, B, ... Z, AA."""
    name = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def entry(name: str) -> zipfile.ZipInfo:
    """An entry of a package, without the hour at which it is made."""
    made = zipfile.ZipInfo(name, _STILL)
    made.compress_type = zipfile.ZIP_DEFLATED
    return made


def _line(number: int, cells: Cells) -> str:
    written = [_cell(f"{letters(at)}{number}", value) for at, value in enumerate(cells) if value is not None]
    return f'<row r="{number}">{"".join(written)}</row>'


def _cell(place: str, value: Any) -> str:
    if isinstance(value, str):
        return f'<c r="{place}" t="inlineStr"><is>{_short(value) if len(value) < _SHORT else _text(value)}</is></c>'
    if isinstance(value, int | float) and not isinstance(value, bool):
        return f'<c r="{place}"><v>{value!r}</v></c>'
    if isinstance(value, date) and not isinstance(value, datetime):
        return f'<c r="{place}" s="{_DATE_STYLE}"><v>{value.toordinal() - _EPOCH}</v></c>'
    raise TypeError(f"{place}: a cell cannot hold a {type(value).__name__}")


def _text(text: str) -> str:
    # Without the mark a reader may drop blanks and line breaks at either end.
    return f"<t{'' if text == text.strip() else _PRESERVED}>{escape(text)}</t>"


_short = lru_cache(maxsize=50_000)(_text)


def frame(
    titles: Sequence[str], *, hidden: Collection[str] = (), epoch_1904: bool = False, dates: str = "yyyy\\-mm\\-dd"
) -> dict[str, str]:
    """The parts of the package that hold the sheets together, by name.

    Args:
        titles: the titles of the sheets, in order.
        hidden: those that are hidden.
        epoch_1904: days are counted from 1 January 1904.
        dates: the format of the cells of style 1.
    """
    numbers = range(1, len(titles) + 1)
    pages = "".join(
        f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_TYPE}.worksheet+xml"/>' for n in numbers
    )
    links = "".join(
        f'<Relationship Id="rId{n}" Type="{_OFFICE}/worksheet" Target="worksheets/sheet{n}.xml"/>' for n in numbers
    )
    state = dict.fromkeys(hidden, ' state="hidden"')
    listed = "".join(
        f'<sheet name={quoteattr(t)} sheetId="{n}"{state.get(t, "")} r:id="rId{n}"/>'
        for n, t in zip(numbers, titles, strict=True)
    )
    epoch = '<workbookPr date1904="1"/>' if epoch_1904 else ""
    styles = len(titles) + 1
    return {
        "[Content_Types].xml": (
            f'{HEAD}<Types xmlns="{_PACKAGE}/content-types"><Default Extension="rels" '
            'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            '<Default Extension="xml" ContentType="application/xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_TYPE}.sheet.main+xml"/>{pages}'
            f'<Override PartName="/xl/styles.xml" ContentType="{_TYPE}.styles+xml"/></Types>'
        ),
        "_rels/.rels": (
            f'{HEAD}<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
            f'Type="{_OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>'
        ),
        "xl/workbook.xml": (
            f'{HEAD}<workbook xmlns="{MAIN}" xmlns:r="{_OFFICE}">{epoch}<bookViews><workbookView/></bookViews>'
            f"<sheets>{listed}</sheets></workbook>"
        ),
        "xl/_rels/workbook.xml.rels": (
            f'{HEAD}<Relationships xmlns="{_PACKAGE}/relationships">{links}<Relationship Id="rId{styles}" '
            f'Type="{_OFFICE}/styles" Target="styles.xml"/></Relationships>'
        ),
        "xl/styles.xml": _STYLES.replace(_DATES, dates),
    }
