"""The empty intake workbook, made from the declarations."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from registry.intake.example_row import MARK, ROW_NOTE, example_row
from registry.intake.heading_notes import heading_note
from registry.intake.parsed_sheet import own_rules
from registry.intake.read_me import READ_ME_LINES
from registry.intake.workbook_file import save_workbook
from registry.intake.workbook_reader import LISTS, READ_ME, all_sheets
from registry.schema.codes import CodeList
from registry.schema.fields import Code, Day, FieldInfo, Moment, Number, Whole
from registry.schema.sheets import Sheet
from registry.schema.xlsx_parts import letters
from registry.store.files import refuse_overwriting

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

LAST_ROW = 20000
"""The last row to which drop-downs and cell formats reach."""


def write_template(path: Path, *, overwrite: bool = False) -> None:
    """Write the empty intake workbook.

    Raises:
        GravelbookError: the file is there and ``overwrite`` is not set, or it cannot be written.
    """
    refuse_overwriting(path, overwrite=overwrite)
    save_workbook(template_workbook(), path)


def template_workbook() -> Workbook:
    """The empty intake workbook: what to do, one sheet a table, and the code lists on a hidden sheet."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font

    workbook = Workbook()
    first: Any = workbook.active
    first.title = READ_ME
    first.column_dimensions["A"].width = 110
    for number, line in enumerate(READ_ME_LINES, start=1):
        cell = first.cell(number, 1, line)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.font = Font(bold=number == 1)
    places = _write_lists(workbook)
    for layout in all_sheets():
        _write_sheet(workbook.create_sheet(layout.title), layout, places)
    workbook.move_sheet(LISTS, offset=len(workbook.sheetnames))
    return workbook


def _write_lists(workbook: Workbook) -> dict[type[CodeList], str]:
    """The hidden sheet of code lists; the range of cells of each."""
    sheet = workbook.create_sheet(LISTS)
    sheet.sheet_state = "hidden"
    lists = {c.info.kind.list for s in all_sheets() for c in s.columns if isinstance(c.info.kind, Code)}
    places = {}
    for at, codes in enumerate(sorted(lists, key=lambda c: c.__name__)):
        sheet.cell(1, at + 1, codes.__name__)
        for row, code in enumerate(codes.codes(), start=2):
            sheet.cell(row, at + 1, code).number_format = "@"
        letter = letters(at)
        places[codes] = f"{LISTS}!${letter}$2:${letter}${len(codes) + 1}"
    return places


def _write_sheet(sheet: Worksheet, layout: Sheet, places: dict[type[CodeList], str]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.worksheet.datavalidation import DataValidation

    example = example_row(layout)
    drop_downs: dict[str, DataValidation] = {}
    for at, column in enumerate(layout.columns):
        info, letter = own_rules(layout.table, column), letters(at)
        head = sheet.cell(1, at + 1, column.heading)
        head.font = Font(bold=True)
        note = heading_note(column, info)
        head.comment = Comment(
            note, "gravelbook", height=18 * min(30, 2 + note.count("\n") + len(note) // 55), width=380
        )
        dimension = sheet.column_dimensions[letter]
        dimension.width, dimension.number_format = max(12, len(column.heading) + 2), cell_format(info)
        cell = sheet.cell(2, at + 1, example.get(column.heading))
        cell.number_format = cell_format(info)
        if isinstance(info.kind, Code):
            place = places[info.kind.list]
            if place not in drop_downs:
                # A label, several codes or the reason for a missing value may be typed too: the list only helps.
                drop_downs[place] = DataValidation("list", formula1=place, allow_blank=True, showErrorMessage=False)
                sheet.add_data_validation(drop_downs[place])
            drop_downs[place].add(f"{letter}2:{letter}{LAST_ROW}")
    last = len(layout.columns)
    sheet.cell(1, last + 1, ROW_NOTE).font = Font(bold=True)
    sheet.cell(2, last + 1, MARK)
    sheet.column_dimensions[letters(last)].width = len(MARK) + 2
    sheet.freeze_panes = "A2"


def cell_format(info: FieldInfo) -> str:
    """The cell format of a column: text where a spreadsheet would otherwise turn what is typed into something else."""
    match info.kind:
        case Whole() | Number():
            return "General"
        case Day(imprecise=False):
            return "yyyy-mm-dd"
        case Moment():
            return "yyyy-mm-dd hh:mm"
        case _:
            return "@"
