"""What a workbook's cell holds: numbers, dates in both epochs, text that looks like a number, formulas, errors."""

from __future__ import annotations

import re
import shutil
import zipfile
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils.datetime import CALENDAR_MAC_1904

from registry.intake.log_cells import DAY_ZERO_1900, DAY_ZERO_1904, LogCell
from registry.validation.findings import Severity
from tests.intake.logs.reading.files import HEADINGS, ROWS, book, cell, only, read, texts

WRITTEN: list[tuple[Any, LogCell]] = [
    (12, LogCell("12", 12.0)),
    (1.1, LogCell("1.1", 1.1)),
    (0.1 + 0.2, LogCell("0.3", 0.3)),  # openpyxl writes 16 digits, of which a person sees 15
    (-7.25, LogCell("-7.25", -7.25)),
    (0.00001, LogCell("0.00001", 0.00001)),
    (1234567890, LogCell("1234567890", 1234567890.0)),
    (True, LogCell("TRUE", True)),
    (1, LogCell("1", 1.0)),
    (False, LogCell("FALSE", False)),
    (0, LogCell("0", 0.0)),
    ("007", LogCell("007", "007", "number stored as text")),
    ("1,10", LogCell("1,10", "1,10", "number stored as text")),
    ("NA", LogCell("NA", "NA")),
    ("12 (approx)", LogCell("12 (approx)", "12 (approx)")),
    (" x ", LogCell(" x ", " x ")),
    (date(2024, 5, 3), LogCell("2024-05-03", date(2024, 5, 3))),
    (datetime(2024, 5, 3, 8, 30), LogCell("2024-05-03 08:30", datetime(2024, 5, 3, 8, 30))),
    (time(8, 30, 15), LogCell("08:30:15", time(8, 30, 15))),
    (timedelta(hours=26, minutes=30), LogCell("26:30", timedelta(hours=26, minutes=30))),
]


def test_a_cell_is_what_a_person_sees_and_what_is_stored(tmp_path: Path) -> None:
    path = book(tmp_path, [["Value", "Case"], *([value, "x"] for value, _ in WRITTEN)])
    sheet, found = read(path)
    assert [row[0] for row in sheet.rows] == [expected for _, expected in WRITTEN]
    assert [type(row[0].value) for row in sheet.rows] == [type(expected.value) for _, expected in WRITTEN]
    assert found == []


def test_cells_that_are_alike_are_one_object(tmp_path: Path) -> None:
    sheet, _ = read(book(tmp_path, [["MRN", "Side"], *([f"H{n}", "left"] for n in range(50))]))
    assert len({id(row[1]) for row in sheet.rows}) == 1


@pytest.mark.parametrize("from_1904", [False, True])
def test_dates_in_both_epochs(from_1904: bool, tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    if from_1904:
        workbook.epoch = CALENDAR_MAC_1904
    for row in (["MRN", "Operated", "As a number"], ["007", date(2024, 5, 3), None]):
        workbook.worksheets[0].append(row)
    zero = DAY_ZERO_1904 if from_1904 else DAY_ZERO_1900
    serial = (date(2024, 5, 3) - zero).days
    assert serial == (43953 if from_1904 else 45415)  # the two differ by 1,462 days
    workbook.worksheets[0]["C2"] = serial
    workbook.save(tmp_path / "log.xlsx")
    sheet, found = read(tmp_path / "log.xlsx")
    assert cell(sheet, "B2") == LogCell("2024-05-03", date(2024, 5, 3))
    assert cell(sheet, "C2") == LogCell(str(serial), float(serial))  # not taken for a date, but it can be counted
    assert sheet.day_zero == zero
    if from_1904:
        assert "1 January 1904" in only(found, "log.day_zero").why
    else:
        assert found == []


def with_formulas(folder: Path, part: str) -> Path:
    """A workbook whose cell D2 is replaced by the given element."""
    plain = book(folder, [HEADINGS, ["007", "2024-05-03", "left", 4711], ROWS[1]])
    path = folder / "formulas.xlsx"
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                assert b'<c r="D2" t="n"><v>4711</v></c>' in content
                content = content.replace(b'<c r="D2" t="n"><v>4711</v></c>', part.encode())
            new.writestr(name, content)
    shutil.move(path, plain)
    return plain


def test_a_formula_gives_its_stored_result(tmp_path: Path) -> None:
    sheet, found = read(with_formulas(tmp_path, '<c r="D2"><f>3*4</f><v>12</v></c>'))
    assert (cell(sheet, "D2"), found) == (LogCell("12", 12.0, "formula"), [])
    sheet, found = read(with_formulas(tmp_path, '<c r="D2" t="str"><f>"a"&amp;"b"</f><v>ab</v></c>'))
    assert (cell(sheet, "D2"), found) == (LogCell("ab", "ab", "formula"), [])


@pytest.mark.parametrize(
    ("part", "words"),
    [
        ('<c r="D2"><f>3*4</f></c>', "never worked out"),
        ('<c r="D2"><f>3*4</f><v/></c>', "never worked out"),
        ('<c r="D2"><f>3*4</f><v></v></c>', "never worked out"),
        ('<c r="D2"><f t="shared" si="0"/></c>', "never worked out"),
        ('<c r="D2" t="e"><v>#REF!</v></c>', "error #REF!"),
        ('<c r="D2" t="e"><f>1/0</f><v>#DIV/0!</v></c>', "error #DIV/0!"),
    ],
)
def test_a_cell_without_a_value_is_an_error_at_the_cell(part: str, words: str, tmp_path: Path) -> None:
    sheet, found = read(with_formulas(tmp_path, part))
    problem = only(found, "cell.value", Severity.ERROR)
    assert problem.heading == sheet.headings[3]
    assert (problem.place, words in problem.why) == ("log!D2", True)
    assert cell(sheet, "D2") == LogCell("", None, "error")


def test_an_error_in_a_row_of_totals_is_no_error(tmp_path: Path) -> None:
    path = book(tmp_path, [HEADINGS, ROWS[0], ["Mean", None, None, "=1/0"]], lambda s: set_formula(s, "D3", "=1/0"))
    sheet, found = read(path, totals=("Mean",))
    only(found, "log.totals")
    assert len(sheet.rows) == 1


def set_formula(sheet: Any, address: str, formula: str) -> None:
    sheet[address] = formula


def test_a_row_of_errors_alone_is_not_blank(tmp_path: Path) -> None:
    path = book(tmp_path, [HEADINGS, ROWS[0], [], ROWS[1]], lambda s: set_formula(s, "B3", "=A3"))
    sheet, found = read(path)
    assert sheet.numbers == [2, 3, 4]
    assert only(found, "cell.value", Severity.ERROR).place == "log!B3"


def test_a_control_character_is_a_question_at_the_cell(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, ["007", "2024-05-03", "le_x0007_ft", "line\nline"]]))
    assert only(found, "log.character", Severity.QUESTION).place == "log!C2"
    assert cell(sheet, "C2").text == "le\x07ft"


def test_a_stray_cell_beyond_the_headings_is_an_error_at_its_row(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, ROWS[0], [*ROWS[1], None, 5]]))
    assert only(found, "log.row_width", Severity.ERROR).place == "log!F3"
    assert texts(sheet) == ROWS


def test_a_column_beyond_the_headings_can_be_named_by_its_letter(tmp_path: Path) -> None:
    sheet, found = read(book(tmp_path, [HEADINGS, *([*row, "remark"] for row in ROWS)]))
    assert only(found, "log.heading_missing").place == "log!E1"
    assert cell(sheet, "E3").text == "remark"


def test_columns_that_are_only_formatted_are_no_columns(tmp_path: Path) -> None:
    def colour(sheet: Any) -> None:
        for at in range(5, 40):
            sheet.cell(2, at).number_format = "0.00"

    sheet, found = read(book(tmp_path, [HEADINGS, *ROWS], colour))
    assert (sheet.headings, found) == (HEADINGS, [])


def test_leading_zeros_that_only_the_format_shows_are_kept(tmp_path: Path) -> None:
    def zeros(sheet: Any) -> None:
        for number in (2, 3, 4):
            sheet.cell(number, 1).number_format = "0000000"
        sheet.cell(2, 4).number_format = "0.00"

    rows = [HEADINGS, [12, "2024-05-03", "left", 3], ["12", "x", "left", 4], [1.5, "x", "left", 5]]
    sheet, found = read(book(tmp_path, rows, zeros))
    assert [row[0].text for row in sheet.rows] == ["0000012", "12", "1.5"]
    assert cell(sheet, "A2") == LogCell("0000012", 12.0, "leading zeros by the format")
    assert (cell(sheet, "D2").text, found) == ("3", [])


def test_a_workbook_whose_elements_have_prefixes_is_read_alike(tmp_path: Path) -> None:
    def change(sheet: Any) -> None:
        sheet.row_dimensions[3].hidden = True
        sheet["D2"] = "=1/0"

    plain = book(tmp_path, [HEADINGS, *ROWS], change)
    path = tmp_path / "prefixed.xlsx"
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(path, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name.endswith("sheet1.xml"):
                content = re.sub(rb"<(/?)(\w)", rb"<\1x:\2", content).replace(b" xmlns=", b" xmlns:x=")
            new.writestr(name, content)
    sheet, found = read(path)
    assert sheet.hidden == {3}
    assert [(f.rule, f.row, f.column) for f in found] == [("cell.value", 2, "D"), ("log.hidden_rows", 3, "")]
