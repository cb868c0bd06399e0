"""Delimiters, quotation marks, line ends and line numbers of CSV files."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.intake.log_cells import LogCell
from registry.schema.errors import GravelbookError
from registry.validation.findings import Severity
from tests.intake.logs.reading.files import HEADINGS, ROWS, cell, csv_file, only, read, texts


def lines(rows: list[list[str]], delimiter: str = ",", end: str = "\n") -> str:
    return "".join(delimiter.join(row) + end for row in rows)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_delimiter_and_line_ends_are_told_from_the_file(delimiter: str, end: str, tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, lines([HEADINGS, *ROWS], delimiter, end)))
    assert (sheet.headings, texts(sheet), sheet.numbers, found) == (HEADINGS, ROWS, [2, 3], [])
    assert (sheet.title, sheet.columns) == ("", ["A", "B", "C", "D"])


def test_nothing_is_inferred(tmp_path: Path) -> None:
    sheet, _ = read(csv_file(tmp_path, "MRN,Size,Note,Free\n007,1.10,NA,\nTRUE,1e3, x ,None\n"))
    assert texts(sheet) == [["007", "1.10", "NA", ""], ["TRUE", "1e3", " x ", "None"]]
    assert cell(sheet, "A2") == LogCell("007", "007")
    assert cell(sheet, "D2") == LogCell("", None)


def test_decimal_commas_do_not_make_a_comma_the_delimiter(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN;Size;HU\n1;1,5;900\n2;2,5;800\n"))
    assert (texts(sheet), found) == ([["1", "1,5", "900"], ["2", "2,5", "800"]], [])


def test_two_delimiters_that_fit_equally_are_a_question(tmp_path: Path) -> None:
    path = csv_file(tmp_path, "Name, first;MRN\nDoe, A;1\nRoe, B;2\n")
    _, found = read(path)
    assert "commas (2 cells a row) and " in only(found, "log.delimiter", Severity.QUESTION).why.replace(
        "semicolons (2 cells a row) and commas", "commas (2 cells a row) and semicolons"
    )
    sheet, found = read(path, delimiter=";")
    assert (sheet.headings, texts(sheet), found) == (["Name, first", "MRN"], [["Doe, A", "1"], ["Roe, B", "2"]], [])


def test_a_file_of_one_column_is_a_question(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN~Side\n1~left\n"))
    only(found, "log.delimiter", Severity.QUESTION)
    assert sheet.headings == ["MRN~Side"]
    sheet, found = read(csv_file(tmp_path, "MRN~Side\n1~left\n"), delimiter="~")
    assert (texts(sheet), found) == ([["1", "left"]], [])


@pytest.mark.parametrize("wrong", ["::", '"', "\n"])
def test_a_delimiter_is_one_character(wrong: str, tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match="It is one character"):
        read(csv_file(tmp_path, "MRN,Side\n1,left\n"), delimiter=wrong)


def test_a_first_line_that_names_the_delimiter_is_no_row(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "sep=^\r\nMRN^Side\r\n1^left\r\n"))
    assert (sheet.headings, texts(sheet), sheet.numbers, found) == (["MRN", "Side"], [["1", "left"]], [3], [])


def test_a_row_has_the_number_of_the_line_on_which_it_starts(tmp_path: Path) -> None:
    text = 'MRN,Note\n1,"a, b\nand ""c""\n"\n2,d\n\n3,"e\r\nf"\n4,g\n'
    sheet, found = read(csv_file(tmp_path, text))
    assert sheet.numbers == [2, 5, 7, 9]
    assert texts(sheet) == [["1", 'a, b\nand "c"\n'], ["2", "d"], ["3", "e\r\nf"], ["4", "g"]]
    assert only(found, "log.blank_rows").why == "Row 6 was blank and passed over."


def test_text_after_a_closing_quotation_mark_is_an_error_at_the_row(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, 'MRN,Note\n1,"a"b\n2,c\n'))
    assert only(found, "log.quotes", Severity.ERROR).row == 2
    assert texts(sheet) == [["1", "ab"], ["2", "c"]]


def test_a_quotation_mark_inside_a_cell_is_a_letter(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, 'MRN,Sheath,Side\n1,12" long,left\n'))
    assert (texts(sheet), found) == ([["1", '12" long', "left"]], [])


def test_a_row_with_more_cells_than_headings_is_an_error_at_the_row(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,Size,Side\n1,1,5,left\n2,2,right\n3,3,left,,\n"))
    problem = only(found, "log.row_width", Severity.ERROR)
    assert (problem.row, problem.column, problem.value) == (2, "D", "")
    assert texts(sheet)[1:] == [["2", "2", "right"], ["3", "3", "left"]]


def test_a_row_with_fewer_cells_is_a_note(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,Size,Side\n1,1\n2,2,right\n3\n"))
    assert "Rows 2, 4 have fewer cells" in only(found, "log.row_width").why
    assert texts(sheet) == [["1", "1", ""], ["2", "2", "right"], ["3", "", ""]]


def test_empty_columns_at_the_end_are_no_columns(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,Side,,\n1,left,,\n2,right,,\n"))
    assert (sheet.headings, texts(sheet), found) == (["MRN", "Side"], [["1", "left"], ["2", "right"]], [])


def test_a_column_without_a_heading_keeps_its_letter(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, "MRN,,Side,\n1,a,left,b\n2,,right,\n"))
    assert sheet.headings == ["MRN", "", "Side", ""]
    assert [(f.rule, f.row, f.column) for f in found] == [
        ("log.heading_missing", 1, "B"),
        ("log.heading_missing", 1, "D"),
    ]
    assert cell(sheet, "D2").text == "b"
