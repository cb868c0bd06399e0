"""Rows that are no cases: each is passed over with a note that names it."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.validation.findings import Severity
from tests.intake.logs.reading.files import HEADINGS, ROWS, book, csv_file, only, read, texts

FIRST, SECOND = ROWS


def test_blank_rows_between_cases_are_one_note(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, FIRST, [], [" ", "\n", None], SECOND, [], []]))
    assert (texts(sheet), sheet.numbers) == ([FIRST, SECOND], [2, 5])
    assert only(found, "log.blank_rows").why == "Rows 3 to 4 were blank and passed over."


def test_headings_printed_again_are_one_note(tmp_path: Path) -> None:
    again = ["mrn", "Date of  op", "SIDE", None]
    sheet, found = read(book(tmp_path, [HEADINGS, FIRST, HEADINGS, SECOND, again]))
    assert (texts(sheet), sheet.numbers) == ([FIRST, SECOND], [2, 4])
    assert only(found, "log.headings_again").why == "Rows 3, 5 repeat the headings and were passed over."


def test_a_row_that_only_shares_a_word_with_the_headings_is_a_case(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, ["MRN", None, None, None], ["MRN", "x", "Side", "1"]]))
    assert (len(sheet.rows), found) == (2, [])


def test_both_of_two_heading_rows_may_come_again(tmp_path: Path) -> None:
    upper, lower = ["Case", None, "Stone", None], ["MRN", "Date", "size", "place"]
    rows = [upper, lower, ["1", "x", "2", "y"], upper, lower, ["2", "x", "2", "y"]]
    sheet, found = read(book(tmp_path, rows), headings_in_rows=(1, 2))
    assert sheet.numbers == [3, 6]
    assert "Rows 4 to 5" in only(found, "log.headings_again").why


def test_declared_totals_are_passed_over_with_a_note_each(tmp_path: Path) -> None:
    totals = [["TOTAL: 2", None, None, 13.1], [None, "Mean", None, 6.55]]
    summer = ["Summer 2", "2024-06-01", "left", "3"]
    sheet, found = read(book(tmp_path, [HEADINGS, FIRST, summer, *totals]), totals=("total", "Mean", "sum"))
    assert texts(sheet) == [FIRST, summer]
    assert [(f.rule, f.severity, f.row) for f in found] == [("log.totals", Severity.NOTE, n) for n in (4, 5)]
    assert "Row 4" in found[0].why


def test_likely_totals_that_are_not_declared_are_read_and_asked_about(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, FIRST, ["Total", None, None, 12]]))
    assert only(found, "log.totals", Severity.QUESTION).row == 3
    assert len(sheet.rows) == 2


def test_nothing_is_read_from_the_declared_end_on(tmp_path: Path) -> None:
    rows = [HEADINGS, FIRST, ["End of list", None, None, None], SECOND, ["Key: x = yes"]]
    sheet, found = read(book(tmp_path, rows), stop_at="end of list")
    assert texts(sheet) == [FIRST]
    stopped = only(found, "log.stop_at")
    assert (stopped.row, "it and 2 rows below were not read" in stopped.why) == (3, True)


def test_an_end_that_never_comes_is_a_note(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, FIRST]), stop_at="End")
    assert "read to its end" in only(found, "log.stop_at").why
    assert len(sheet.rows) == 1


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_both_kinds_of_file_are_read_alike(kind: str, tmp_path: Path) -> None:
    rows = [HEADINGS, FIRST, HEADINGS, ["", "", "", ""], SECOND, ["Total", "", "", "2"]]
    text = "".join(",".join(row) + "\n" for row in rows)
    path = csv_file(tmp_path, text) if kind == "csv" else book(tmp_path, rows)
    sheet, found = read(path, totals=("Total",))
    assert (texts(sheet), sheet.numbers) == ([FIRST, SECOND], [2, 5])
    assert {f.rule for f in found} == {"log.headings_again", "log.blank_rows", "log.totals"}
