"""Hidden rows, columns and sheets, and which sheets are read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from registry.schema.errors import GravelbookError
from registry.validation.findings import Severity
from tests.intake.logs.reading.files import HEADINGS, ROWS, book, fill, only, read, read_file, texts


def years(folder: Path, *, hidden: str = "", state: str = "hidden") -> Path:
    """A workbook with a title sheet without cells and the sheets 2023, 2024 and Key."""
    workbook = openpyxl.Workbook()
    workbook.worksheets[0].title = "cover"
    for title in ("2023", "2024", "Key"):
        sheet = workbook.create_sheet(title)
        fill(sheet, [["Code", "Meaning"], ["x", "yes"]] if title == "Key" else [HEADINGS, [title, *ROWS[0][1:]]])
        if title == hidden:
            sheet.sheet_state = state
    path = folder / "log.xlsx"
    workbook.save(path)
    return path


def test_hidden_rows_are_read_with_one_note(tmp_path: Path) -> None:
    def hide(sheet: Any) -> None:
        for number in (1, 3, 4, 5, 7, 90):
            sheet.row_dimensions[number].hidden = True

    rows = [[str(n), "2024-05-03", "left", "x"] for n in range(2, 9)]
    sheet, found = read(book(tmp_path, [HEADINGS, *rows], hide))
    assert texts(sheet) == rows
    assert sheet.hidden == {3, 4, 5, 7}
    assert only(found, "log.hidden_rows").why == "Rows 3 to 5, 7 are hidden in the spreadsheet, and read."


def test_hidden_columns_are_read_with_one_note(tmp_path: Path) -> None:
    def hide(sheet: Any) -> None:
        for letter in ("B", "D", "Q"):
            sheet.column_dimensions[letter].hidden = True

    sheet, found = read(book(tmp_path, [HEADINGS, *ROWS], hide))
    assert texts(sheet) == ROWS
    assert only(found, "log.hidden_columns").why == "Hidden in the spreadsheet and read: columns B, D."


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_hidden_sheet_is_read_only_when_it_is_named(state: str, tmp_path: Path) -> None:
    path = years(tmp_path, hidden="2023", state=state)
    file, found = read_file(path)
    assert [sheet.title for sheet in file.sheets] == ["2024"]
    assert (found[0].rule, found[0].sheet, found[0].why[-13:-1]) == ("log.hidden_sheet", "2023", "was not read")
    file, found = read_file(path, sheets=("2023",))
    assert [sheet.title for sheet in file.sheets] == ["2023"]
    assert "it was read, as asked for" in only(found, "log.hidden_sheet").why
    file, _ = read_file(path, sheets=("*",))
    assert [sheet.title for sheet in file.sheets] == ["2024", "Key"]


def test_the_first_sheet_with_cells_is_read_and_the_others_are_named(tmp_path: Path) -> None:
    file, found = read_file(years(tmp_path))
    assert [sheet.title for sheet in file.sheets] == ["2023"]
    assert [(f.rule, f.severity, f.sheet) for f in found] == [
        ("log.sheet", Severity.NOTE, "2024"),
        ("log.sheet", Severity.NOTE, "Key"),
    ]


def test_named_sheets_are_read_in_the_order_asked_for(tmp_path: Path) -> None:
    file, found = read_file(years(tmp_path), sheets=("2024", " 2023"))
    assert [(sheet.title, texts(sheet)[0][0]) for sheet in file.sheets] == [("2024", "2024"), ("2023", "2023")]
    assert found == []


def test_a_sheet_that_is_not_there_is_a_question_or_where_none_is_there_a_refusal(tmp_path: Path) -> None:
    file, found = read_file(years(tmp_path), sheets=("2024", "2025"))
    assert [sheet.title for sheet in file.sheets] == ["2024"]
    assert "has no sheet '2025'" in only(found, "log.sheet", Severity.QUESTION).why
    with pytest.raises(GravelbookError, match="has no sheet '2025'; its sheets are 'cover', '2023', '2024', 'Key'"):
        read_file(years(tmp_path), sheets=("2025",))


def test_a_named_sheet_without_cells_is_a_question(tmp_path: Path) -> None:
    file, found = read_file(years(tmp_path), sheets=("cover", "2024"))
    assert [sheet.title for sheet in file.sheets] == ["2024"]
    assert only(found, "log.sheet", Severity.QUESTION).sheet == "cover"
