"""Which rows are headings, and how two of them become one."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest

from registry.intake.log_heading_rows import HeadingRowsError
from registry.schema.errors import GravelbookError
from registry.validation.findings import Severity
from tests.intake.logs.reading.files import HEADINGS, ROWS, book, csv_file, only, read, texts

GROUPS: list[list[Any]] = [
    ["MRN", "Stone 1", None, "Stone 2", None, "Remarks"],
    [None, "size", "place", "size", "place", None],
    ["007", 12, "pelvis", 5, "ureter", "none"],
]
JOINED = ["MRN", "Stone 1 / size", "Stone 1 / place", "Stone 2 / size", "Stone 2 / place", "Remarks"]


def merge_groups(sheet: Any) -> None:
    for cells in ("A1:A2", "B1:C1", "D1:E1", "F1:F2"):
        sheet.merge_cells(cells)


def as_csv(rows: list[list[Any]]) -> str:
    return "".join(",".join("" if c is None else str(c) for c in row) + "\n" for row in rows)


def test_titles_above_the_headings_are_passed_over_with_a_note(tmp_path: Path) -> None:
    rows = [["Theatre log"], ["printed", date(2024, 7, 1)], [], HEADINGS, *ROWS]
    sheet, found = read(book(tmp_path, rows))
    assert (sheet.headings, sheet.numbers, texts(sheet)) == (HEADINGS, [5, 6], ROWS)
    assert only(found, "log.above_headings").why == "Rows 1 to 2 were above the headings and passed over."


def test_declared_headings_need_not_look_like_headings(tmp_path: Path) -> None:
    sheet, _ = read(book(tmp_path, [["x", "y", "z"], [2021, 2022, "MRN"], [1, 2, "007"]]), headings_in_rows=(2,))
    assert (sheet.headings, texts(sheet)) == (["2021", "2022", "MRN"], [["1", "2", "007"]])


@pytest.mark.parametrize(("row", "words"), [(9, "is not there"), (2, "is blank")])
def test_a_declared_row_must_hold_something(row: int, words: str, tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match=f"row {row} of sheet 'log' of log.xlsx holds headings, but .* {words}"):
        read(book(tmp_path, [HEADINGS, [], *ROWS]), headings_in_rows=(row,))


@pytest.mark.parametrize(
    "rows",
    [
        [["007", date(2024, 5, 3), "left"], ["008", date(2024, 6, 1), "right"]],
        [["yes", "no", "no", "no", "no"], ["no", "no", "yes", "no", "no"]],
        [[1, 2, 3], [4, 5, 6]],
    ],
)
def test_a_log_without_headings_is_refused(rows: list[list[Any]], tmp_path: Path) -> None:
    with pytest.raises(HeadingRowsError, match=r"headings_in_rows = \[1\]") as raised:
        read(book(tmp_path, rows))
    assert raised.value.proposed == ()


@pytest.mark.parametrize("merged", [True, False])
def test_two_heading_rows_are_not_guessed(merged: bool, tmp_path: Path) -> None:
    with pytest.raises(HeadingRowsError, match=r"headings_in_rows = \[1, 2\]") as raised:
        read(book(tmp_path, GROUPS, merge_groups if merged else None))
    assert raised.value.proposed == (1, 2)


def test_groups_in_the_row_above_repeated_headings_are_not_guessed(tmp_path: Path) -> None:
    rows = [
        ["Stone 1", None, None, None, "Stone 2", None, None, None, None],
        ["size", "place", "HU", "form"] * 2 + ["a"],
    ]
    with pytest.raises(HeadingRowsError, match=r"headings_in_rows = \[1, 2\]"):
        read(book(tmp_path, [*rows, [1, 2, 3, 4, 5, 6, 7, 8, 9]]))


@pytest.mark.parametrize("merged", [True, False])
def test_two_declared_heading_rows_are_joined(merged: bool, tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, GROUPS, merge_groups if merged else None), headings_in_rows=(1, 2))
    assert (sheet.headings, sheet.numbers, found) == (JOINED, [3], [])
    assert texts(sheet) == [["007", "12", "pelvis", "5", "ureter", "none"]]


def test_two_heading_rows_of_a_csv_file_are_joined(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, as_csv(GROUPS)), headings_in_rows=(1, 2))
    assert (sheet.headings, sheet.numbers, found) == (JOINED, [3], [])


def test_one_heading_over_merged_columns_heads_each_of_them(tmp_path: Path) -> None:
    rows = [["MRN", "Size", None, "Side"], ["007", 12, 9, "left"]]
    sheet, found = read(book(tmp_path, rows, lambda sheet: sheet.merge_cells("B1:C1")))
    assert sheet.headings == ["MRN", "Size", "Size", "Side"]
    only(found, "log.heading_twice")


def test_headings_over_several_columns_are_named_with_their_letters(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,Size,Place,size ,Place\n1,2,p,3,u\n"))
    assert [(f.column, f.why) for f in found] == [
        ("B", "'Size' heads 2 columns: B, D."),
        ("C", "'Place' heads 2 columns: C, E."),
    ]
    assert {f.severity for f in found} == {Severity.NOTE}
    assert texts(sheet) == [["1", "2", "p", "3", "u"]]


def test_line_breaks_in_a_heading_are_blanks(tmp_path: Path) -> None:
    sheet, _ = read(book(tmp_path, [["MRN", "Stone\nsize  (mm)"], ["007", 12]]))
    assert sheet.headings == ["MRN", "Stone size (mm)"]


def test_a_sheet_that_begins_further_down_and_to_the_right_keeps_its_addresses(tmp_path: Path) -> None:
    rows = [[], [], [None, None, *HEADINGS], [None, None, *ROWS[0]]]
    sheet, found = read(book(tmp_path, rows))
    assert (sheet.headings, sheet.numbers, found) == (["", "", *HEADINGS], [4], [])
    assert sheet.columns == ["A", "B", "C", "D", "E", "F"]


def test_headings_alone_are_a_log_without_rows(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,Side\n"))
    assert (sheet.headings, sheet.rows, found) == (["MRN", "Side"], [], [])
