"""Plain rows become a workbook that two independent readers read alike."""

from __future__ import annotations

import io
from datetime import date, datetime
from typing import Any

import openpyxl
import pytest
from python_calamine import CalamineWorkbook

from registry.schema.xlsx_parts import letters, write_sheets

ROWS: list[list[Any]] = [
    ["text", "number", "day", "last"],
    ["=1+1", 7, date(1900, 3, 1), "#N/A"],
    [' a < b & "c" ', 0.1, None, "line\nbreak\n"],
    [None, -1e-300, date(9999, 12, 31), None],
    ["Ärzte, 数, \U0001f600", 2**53, date(2024, 2, 29), ""],
]


def made(*pages: tuple[str, list[list[Any]]], **options: Any) -> io.BytesIO:
    stream = io.BytesIO()
    write_sheets(stream, pages, **options)
    stream.seek(0)
    return stream


def test_both_readers_give_back_every_cell() -> None:
    stream = made(("A & B", ROWS), ("empty", []))
    read = CalamineWorkbook.from_filelike(stream)
    assert read.sheet_names == ["A & B", "empty"]
    cells = read.get_sheet_by_name("A & B").to_python(skip_empty_area=False)
    assert cells == [["" if cell is None else cell for cell in row] for row in ROWS]
    sheet = openpyxl.load_workbook(stream)["A & B"]
    for row, wanted in zip(sheet.iter_rows(), ROWS, strict=True):
        for cell, value in zip(row, wanted, strict=True):
            found = cell.value.date() if isinstance(cell.value, datetime) else cell.value
            assert (found or "") == (value or "")
            assert cell.data_type not in ("f", "e")
    assert (sheet.freeze_panes, sheet["C2"].number_format) == ("A2", "yyyy\\-mm\\-dd")


def test_the_same_rows_give_the_same_bytes_however_many() -> None:
    many = [[f"row {n}", n] for n in range(5001)]
    first = made(("many", many)).getvalue()
    assert first == made(("many", list(many))).getvalue()
    assert len(CalamineWorkbook.from_filelike(io.BytesIO(first)).get_sheet_by_index(0).to_python()) == 5001
    assert first != made(("many", many), frozen=False).getvalue()


@pytest.mark.parametrize("cell", [True, datetime(2024, 5, 3, 8), b"bytes", ["list"]])
def test_what_no_cell_can_hold_is_refused(cell: Any) -> None:
    with pytest.raises(TypeError, match=f"B1: a cell cannot hold a {type(cell).__name__}"):
        made(("sheet", [["a", cell]]))


def test_columns_are_lettered_as_spreadsheets_do() -> None:
    assert [letters(n) for n in (0, 25, 26, 51, 52, 701, 702)] == ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]
