"""Writes the rows that were not loaded, each with its reasons, as a workbook that can be mended and loaded."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from registry.intake.good_rows_keys import Unit, unit_of
from registry.intake.good_rows_sorting import SortedRows
from registry.intake.rejected_file_cells import CELL_FAULT, put_fault, put_value, reasons_text
from registry.intake.rejected_file_columns import ROW_IN_FILE, WHY_NOT_LOADED
from registry.intake.rows import SheetRows
from registry.intake.template import cell_format
from registry.intake.workbook_reader import all_sheets
from registry.schema.xlsx_parts import letters
from registry.validation.findings import Finding

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_WHY_WIDTH = 90


def rejected_workbook(rows: SortedRows) -> Workbook:
    """The rejected rows of a workbook in the registry's own layout, as a workbook of the same layout.

    Args:
        rows: the sorted rows of the file.

    Returns:
        The sheets that have rejected rows, under all headings of the template, in the template's order.
    """
    from openpyxl import Workbook

    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    order = [layout.table for layout in all_sheets()]
    for sheet in sorted(rows.sheets, key=lambda sheet: order.index(sheet.sheet.table)):
        chosen = [index for index in range(len(sheet)) if unit_of(sheet, index) in rows.reasons]
        if chosen:
            _write_sheet(workbook.create_sheet(sheet.sheet.title), sheet, chosen, rows.reasons)
    return workbook


def _write_sheet(target: Worksheet, rows: SheetRows, chosen: list[int], reasons: dict[Unit, list[Finding]]) -> None:
    headings = [*rows.sheet.headings, WHY_NOT_LOADED, ROW_IN_FILE]
    write_headings(target, 1, 1, headings)
    for at, column in enumerate(rows.sheet.columns):
        target.column_dimensions[letters(at)].width = max(12, len(column.heading) + 2)
        target.column_dimensions[letters(at)].number_format = cell_format(column.info)
    for number, index in enumerate(chosen, start=2):
        found = reasons[unit_of(rows, index)]
        faults = {f.heading: f.why for f in found if f.rule == CELL_FAULT}
        for at, column in enumerate(rows.sheet.columns, start=1):
            cells = rows.cells.get(column.heading)
            if column.heading in faults:
                put_fault(target, number, at, faults[column.heading])
            elif cells is not None:
                put_value(target, number, at, cells[index])
        write_reasons(target, number, len(rows.sheet.columns) + 1, found, rows.numbers[index])
    size_reasons(target, len(rows.sheet.columns))
    target.freeze_panes = "A2"


def write_headings(target: Worksheet, row: int, first: int, headings: list[str]) -> None:
    """Write headings in bold.

    Args:
        target: the sheet.
        row: the row's number from 1.
        first: the number of the first column.
        headings: the headings.
    """
    from openpyxl.styles import Font

    for at, heading in enumerate(headings, start=first):
        put_value(target, row, at, heading).font = Font(bold=True)


def write_reasons(target: Worksheet, row: int, column: int, found: list[Finding], number: int) -> None:
    """Write why a row was not loaded and where it stood.

    Args:
        target: the sheet.
        row: the row's number from 1.
        column: the column of the reasons; the next one takes the number.
        found: the findings that keep the row out.
        number: the row's number in the file.
    """
    from openpyxl.styles import Alignment

    cell: Any = put_value(target, row, column, reasons_text(found))
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    put_value(target, row, column + 1, number)


def size_reasons(target: Worksheet, at: int) -> None:
    """Give the two added columns the width that they need.

    Args:
        target: the sheet.
        at: the number of the first added column, from 0.
    """
    target.column_dimensions[letters(at)].width = _WHY_WIDTH
    target.column_dimensions[letters(at + 1)].width = len(ROW_IN_FILE) + 2
