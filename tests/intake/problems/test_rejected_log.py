"""Rejected rows of a flat log: they come back under the log's own headings and load by its own mapping."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from registry.intake.good_rows import GoodRows, load_good_rows
from registry.intake.load import load_file
from registry.intake.load_plan import make_plan
from registry.intake.marked_copy import write_marked_copies
from registry.intake.source import Source
from registry.store.registry import Registry
from tests.intake.problems.mending import content

MAPPING = """
name = "theatre log"
site = "LB"

[reading]
dates = ["dd.mm.yyyy"]
decimal = ","
headings_in_rows = [2]

[[column]]
heading = "Number"
to = "hospital_number.number"

[[column]]
heading = "Study"
to = "patient.study_number"

[[column]]
heading = "Date"
to = "operation.operated_on"

[[column]]
heading = "Side"
to = "renal_unit.unit"
values = { "L" = "left", "R" = "right" }

[[column]]
heading = "Size"
to = "stone.length_mm"

[[column]]
heading = "Scope"
to = "equipment_model.shaft_tenths_fr"

[[constant]]
to = "equipment_model.kind"
value = "scope"

[[constant]]
to = "operation.purpose"
value = "stone_removal"

[[constant]]
to = "treated_side.intent"
value = "stone_removal"
"""
HEADINGS = ["Number", "Study", "Date", "Side", "Size", "Scope"]
# Two operations on one kidney (rows 4 and 6), two sides on one day (rows 7 and 8); all with one of two scopes.
PERFECT = [
    ["H1", "1", "03.05.2023", "L", "12,5", "8,5"],
    ["H2", "2", "04.05.2023", "R", "9", "7,5"],
    ["H3", "3", "05.05.2023", "L", "8", "8,5"],
    ["H2", "2", "09.06.2023", "R", "7", "7,5"],
    ["H4", "4", "10.06.2023", "L", "6", "8,5"],
    ["H4", "4", "10.06.2023", "R", "5", "8,5"],
    ["H5", "5", "11.06.2023", "R", "14", "7,5"],
]
WRONG = {(3, 2): "31.04.2023", (4, 4): "eight", (8, 3): "Q"}  # by row of the file and column from 0


def with_mistakes() -> list[list[str]]:
    return [[WRONG.get((n, at), cell) for at, cell in enumerate(row)] for n, row in enumerate(PERFECT, start=3)]


def log(path: Path, rows: list[list[str]]) -> Source:
    lines = ["Larkspur Bay;;;;;", ";".join(HEADINGS), *(";".join(row) for row in rows)]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    mapping = path.with_name("log.toml")
    mapping.write_text(MAPPING, encoding="utf-8")
    return Source((path,), mapping)


def with_site(registry: Registry) -> Registry:
    with registry.writing(by="test") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"})
    return registry


def good(registry: Registry, source: Source, target: Path) -> GoodRows:
    return load_good_rows(registry, source, target, by="test", today=date(2026, 1, 1))


def cells(path: Path) -> list[list[Any]]:
    return [list(row) for row in openpyxl.load_workbook(path).worksheets[0].iter_rows(values_only=True)]


def test_mended_and_loaded_again_it_is_the_perfect_log(two_engines: tuple[Registry, Registry], tmp_path: Path) -> None:
    at_once, in_steps = map(with_site, two_engines)
    assert load_file(at_once, log(tmp_path / "perfect.csv", PERFECT), by="test").errors == 0
    source = log(tmp_path / "log.csv", with_mistakes())
    first = good(in_steps, source, tmp_path / "rejected.xlsx")
    assert first.loaded.batch_id is not None
    assert first.rejected == 5
    book = openpyxl.load_workbook(tmp_path / "rejected.xlsx")
    sheet = book.worksheets[0]
    for row in range(3, sheet.max_row + 1):
        number = sheet.cell(row, 8).value
        for at in range(6):
            if (number, at) in WRONG:
                assert sheet.cell(row, at + 1).value == WRONG[number, at]
                sheet.cell(row, at + 1).value = PERFECT[number - 3][at]
    book.save(tmp_path / "mended.xlsx")
    mended = Source((tmp_path / "mended.xlsx",), source.mapping)
    second = good(in_steps, mended, tmp_path / "left.xlsx")
    assert second.rejected == 0, second.loaded.findings
    assert content(in_steps, tmp_path / "b.xlsx") == content(at_once, tmp_path / "a.xlsx")


def test_all_that_stood_there_stands_there_again(registry: Registry, tmp_path: Path) -> None:
    good(with_site(registry), log(tmp_path / "log.csv", with_mistakes()), tmp_path / "rejected.xlsx")
    title, headings, *rows = cells(tmp_path / "rejected.xlsx")
    assert title[0] == "Larkspur Bay"
    assert headings == [*HEADINGS, "why not loaded", "row in the file"]
    assert [row[-1] for row in rows] == [3, 4, 6, 7, 8]
    original = with_mistakes()
    assert [row[:6] for row in rows] == [original[row[-1] - 3] for row in rows]


def test_rows_of_one_patient_wait_for_each_other_and_no_others(registry: Registry, tmp_path: Path) -> None:
    found = good(with_site(registry), log(tmp_path / "log.csv", with_mistakes()), tmp_path / "rejected.xlsx")
    why = {row[-1]: row[-2] for row in cells(tmp_path / "rejected.xlsx")[2:]}
    patients = {number: PERFECT[number - 3][0] for number in why}
    wrong = {number for number, _ in WRONG}
    assert set(patients.values()) == {PERFECT[number - 3][0] for number in wrong}
    for number in set(why) - wrong:
        assert why[number].startswith("It shares its patient with row ")
    assert found.loaded.new["operation"] == 7 - found.rejected


def test_a_model_that_a_rejected_row_was_the_first_to_name_is_kept(registry: Registry, tmp_path: Path) -> None:
    rows = [["H1", "1", "03.05.2023", "L", "much", "8,5"], ["H3", "3", "05.05.2023", "L", "8", "8,5"]]
    found = good(with_site(registry), log(tmp_path / "log.csv", rows), tmp_path / "rejected.xlsx")
    assert found.rejected == 1
    assert found.loaded.new["equipment_model"] == 1
    assert found.loaded.new["patient"] == 1


def test_the_same_log_again_brings_nothing_twice(registry: Registry, tmp_path: Path) -> None:
    source = log(tmp_path / "log.csv", with_mistakes())
    first = good(with_site(registry), source, tmp_path / "rejected.xlsx")
    before = content(registry, tmp_path / "a.xlsx")
    again = good(registry, source, tmp_path / "again.xlsx")
    assert (again.loaded.batch_id, again.rejected) == (None, first.rejected)
    assert content(registry, tmp_path / "a.xlsx") == before


def test_a_row_with_cells_too_many_is_not_let_in_by_the_copy(registry: Registry, tmp_path: Path) -> None:
    rows = [[*row[:4], "12", "5", "8", "5"] for row in PERFECT[:3]]  # decimal marks taken for delimiters
    source = log(tmp_path / "log.csv", rows)
    assert good(with_site(registry), source, tmp_path / "rejected.xlsx").rejected == 3
    again = good(registry, Source((tmp_path / "rejected.xlsx",), source.mapping), tmp_path / "again.xlsx")
    assert (again.loaded.batch_id, again.rejected) == (None, 3)
    assert [row[:8] for row in cells(tmp_path / "again.xlsx")[1:2]] == [
        [*HEADINGS, "why not loaded", "row in the file"]
    ]


@pytest.mark.parametrize("epoch", [datetime(1899, 12, 30), datetime(1904, 1, 1)], ids=["1900", "1904"])
def test_workbooks_keep_two_heading_rows_merges_dates_and_numbers(
    epoch: datetime, registry: Registry, tmp_path: Path
) -> None:
    source = log(tmp_path / "unused.csv", PERFECT)
    assert source.mapping is not None
    source.mapping.write_text(
        MAPPING.replace("[2]", "[2, 3]").replace('heading = "Size"', 'heading = "Stone / Size"'), encoding="utf-8"
    )
    book = openpyxl.Workbook()
    book.epoch = epoch
    sheet = book.worksheets[0]
    sheet.title = "2023"
    for row in (["Larkspur Bay"], ["Number", "Study", "Date", "Side", "Stone", "", "Scope"]):
        sheet.append(row)
    sheet.append(["", "", "", "", "Size", "Place", ""])
    sheet.merge_cells("E2:F2")
    sheet.append(["H1", 1, date(2023, 5, 3), "L", 12.5, "", 8.5])
    sheet.append(["H2", 2, date(2023, 5, 4), "Q", 9, "", 7.5])
    sheet.append(["H3", 3, date(2023, 5, 5), "R", "=1+1", "", 7.5])
    book.save(tmp_path / "log.xlsx")
    found = good(with_site(registry), Source((tmp_path / "log.xlsx",), source.mapping), tmp_path / "rejected.xlsx")
    assert found.rejected == 2, found.loaded.findings
    back = openpyxl.load_workbook(tmp_path / "rejected.xlsx")["2023"]
    assert [str(area) for area in back.merged_cells.ranges] == ["E2:F2"]
    assert [cell.value for cell in back[3]][-2:] == ["why not loaded", "row in the file"]
    assert [cell.value for cell in back[4]][:5] == ["H2", 2, datetime(2023, 5, 4), "Q", 9]
    assert (back["E5"].value, back["E5"].data_type) == ("#N/A", "e")  # a formula that was never worked out
    back["D4"].value, back["E5"].value = "L", 2
    back.parent.save(tmp_path / "mended.xlsx")
    left = good(registry, Source((tmp_path / "mended.xlsx",), source.mapping), tmp_path / "left.xlsx")
    assert left.rejected == 0, left.loaded.findings
    assert left.loaded.new["operation"] == 2


def test_several_files_give_a_workbook_each_whose_name_begins_alike(registry: Registry, tmp_path: Path) -> None:
    one = log(tmp_path / "north.csv", with_mistakes()[:3])
    two = log(tmp_path / "south.csv", [["H9", "9", "01.02.2023", "L", "6", "9"], ["H8", "8", "x", "L", "6", "9"]])
    both = Source((*one.files, *two.files), one.mapping)
    found = good(with_site(registry), both, tmp_path / "rejected.xlsx")
    assert [Path(file).name for file in found.files] == ["north-rejected.xlsx", "south-rejected.xlsx"]
    assert [row[0] for row in cells(tmp_path / "south-rejected.xlsx")[2:]] == ["H8"]


def test_a_marked_copy_of_a_csv_file_has_its_rows_under_their_numbers(registry: Registry, tmp_path: Path) -> None:
    rows = with_mistakes()
    rows[0][0] = '"H1\n"'  # a line break in a cell: the next row starts two lines further down
    source = log(tmp_path / "log.csv", rows)
    found = make_plan(with_site(registry), source, today=date(2026, 1, 1)).findings.listed()
    assert write_marked_copies(source, found, tmp_path / "copy.xlsx") == [tmp_path / "copy.xlsx"]
    book = openpyxl.load_workbook(tmp_path / "copy.xlsx")
    assert book.sheetnames == ["log", "problems"]
    sheet = book["log"]
    assert [sheet.cell(n, 1).value for n in (1, 2, 3, 4, 5, 6)] == ["Larkspur Bay", "Number", "H1\n", None, "H2", "H3"]
    assert sheet["E5"].value == "eight"
    assert sheet["E5"].comment.text.startswith("error: 'eight' is not a number.")
    assert book["problems"].cell(2, 1).hyperlink.location.startswith("'log'!")
    errors = [f for f in found if f.severity == "error"]
    assert {f"{f.column}{f.row}" for f in errors} >= {"E5", "D9"}
