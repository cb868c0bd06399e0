"""The sheet that lists every finding of a file, each with a link to its cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from registry.intake.marked_copy_looks import give_looks
from registry.intake.rejected_file_cells import put_value
from registry.intake.workbook_reader import PROBLEMS
from registry.schema.xlsx_parts import letters
from registry.validation.findings import HEADINGS, Finding, Severity, summary

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_LINK = "go to"
_WIDTHS = {_LINK: 18, "file": 18, "sheet": 18, "row": 7, "column": 8, "heading": 22, "value": 24, "severity": 10}
_WIDE = {"rule": 34, "why": 70, "right": 50}
_NOTHING = "Nothing to mend."


def add_problems(workbook: Workbook, found: Sequence[Finding], titles: Mapping[str, str]) -> None:
    """Add the sheet ``problems`` at the end of a workbook; one that stands there from an earlier check goes.

    Args:
        workbook: the workbook that the findings are about.
        found: all findings about it.
        titles: the workbook's sheet for each sheet that findings name, where the workbook has it.
    """
    _remove_earlier(workbook)
    names = {title.casefold() for title in workbook.sheetnames}
    title = next(name for name in (PROBLEMS, *(f"{PROBLEMS} {n}" for n in range(2, 100))) if name not in names)
    sheet = workbook.create_sheet(title)
    headings = (_LINK, *HEADINGS)
    for at, heading in enumerate(headings, start=1):
        _heading(sheet, at, heading)
    for number, finding in enumerate(found, start=2):
        _link(sheet, number, finding, titles.get(finding.sheet))
        for at, name in enumerate(HEADINGS, start=2):
            value = getattr(finding, name)
            cell = put_value(sheet, number, at, str(value) if isinstance(value, Severity) else value)
            cell.alignment = _wrapped()
            if name == "severity":
                give_looks(cell, finding.severity)
    put_value(sheet, len(found) + 3, 1, summary(found) if found else _NOTHING)
    sheet.freeze_panes = "B2"
    sheet.auto_filter.ref = f"A1:{letters(len(headings) - 1)}{len(found) + 1}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.print_title_rows = "1:1"


def _heading(sheet: Worksheet, at: int, heading: str) -> None:
    from openpyxl.styles import Font

    put_value(sheet, 1, at, heading).font = Font(bold=True)
    sheet.column_dimensions[letters(at - 1)].width = (_WIDTHS | _WIDE)[heading]


def _wrapped() -> Any:
    from openpyxl.styles import Alignment

    return Alignment(wrap_text=True, vertical="top")


def _link(sheet: Worksheet, number: int, finding: Finding, title: str | None) -> None:
    """What leads to the finding's cell, or to the first cell of its row."""
    if title is None:
        return
    from openpyxl.styles import Font
    from openpyxl.worksheet.hyperlink import Hyperlink

    column = finding.column.split(",")[0].strip() or "A"
    place = f"{column}{finding.row or 1}"
    cell = put_value(sheet, number, 1, f"{title}!{place}")
    quoted = title.replace("'", "''")
    cell.hyperlink = Hyperlink(ref=cell.coordinate, location=f"'{quoted}'!{place}")
    cell.font = Font(underline="single", color="1F4E79")
    cell.alignment = _wrapped()


def _remove_earlier(workbook: Workbook) -> None:
    for sheet in workbook.worksheets:
        if sheet.title.casefold().startswith(PROBLEMS) and [cell.value for cell in sheet[1]][:2] == [_LINK, "file"]:
            workbook.remove(sheet)
