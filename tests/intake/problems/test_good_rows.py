"""The good rows of a workbook are loaded; the others come back with their reasons, are mended, and nothing is left."""

from __future__ import annotations

import copy
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from registry.intake.good_rows import GoodRows, load_good_rows
from registry.intake.load import load_file
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.books import CASE, IDENTITY, OPERATED, Rows, case, change_book, put, with_cell, write_book
from tests.intake.problems.mending import content, mend, rejected_rows

PERFECT: Rows = {**CASE, **IDENTITY}
TODAY = date(2026, 1, 1)
NOTHING_LEFT = "None was rejected"


def broken() -> Rows:
    """The case with a mistake in four sheets: three rows are wrong, and one stands twice."""
    rows = copy.deepcopy(PERFECT)
    rows["treated_side"][0]["technique"] = "flexable"
    rows["patient"][1]["sex"] = "x"
    rows["contact"][0]["contacted_on"] = "03/04/2024"
    rows["stone"].append({**rows["stone"][0], "length_mm": 3})
    return rows


MENDED: dict[tuple[str, int, str], Any] = {
    ("Treated side", 2, "technique"): "flexible",
    ("Patient", 3, "sex"): "Male",
    ("Contact", 2, "contacted_on"): date(2024, 8, 1),
    ("Stone", 3, ""): None,  # the stone that stands twice
}


def good(registry: Registry, path: Path, target: Path, **more: Any) -> GoodRows:
    return load_good_rows(registry, path, target, by="test", today=TODAY, **more)


def test_mended_and_loaded_again_it_is_the_perfect_file(two_engines: tuple[Registry, Registry], tmp_path: Path) -> None:
    at_once, in_two_steps = two_engines
    load_file(at_once, write_book(tmp_path / "perfect.xlsx", PERFECT), by="test")
    first = good(in_two_steps, write_book(tmp_path / "broken.xlsx", broken()), tmp_path / "rejected.xlsx")
    assert first.loaded.batch_id is not None
    assert first.files == [str(tmp_path / "rejected.xlsx")]
    assert content(in_two_steps, tmp_path / "b.xlsx") != content(at_once, tmp_path / "a.xlsx")
    mended = mend(tmp_path / "rejected.xlsx", MENDED, tmp_path / "mended.xlsx")
    second = good(in_two_steps, mended, tmp_path / "left.xlsx")
    assert second.rejected == 0
    assert not (tmp_path / "left.xlsx").exists()
    assert content(in_two_steps, tmp_path / "b.xlsx") == content(at_once, tmp_path / "a.xlsx")
    assert in_two_steps.find_patient("LB", "H-77 12") is not None


def test_what_hangs_on_a_rejected_row_waits_for_it(registry: Registry, tmp_path: Path) -> None:
    found = good(registry, write_book(tmp_path / "b.xlsx", broken()), tmp_path / "rejected.xlsx")
    rejected = rejected_rows(tmp_path / "rejected.xlsx")
    why = {(title, row["row in the file"]): row["why not loaded"] for title, rows in rejected.items() for row in rows}
    assert set(why) == {
        *(("Patient", 3), ("Renal unit", 3)),
        *(("Treated side", 2), ("Equipment use", 2), ("Equipment use", 3), ("Stone aimed at", 2)),
        *(("Stone", 2), ("Stone", 3), ("Fragment", 2), ("Contact", 2)),
    }
    assert found.rejected == 10
    assert why["Patient", 3].startswith("sex: 'x' is not on the list of sex. Right would be: one of: female, male")
    assert why["Renal unit", 3].startswith("It belongs to row 3 of sheet Patient, which was not loaded")
    assert why["Equipment use", 3].startswith("It belongs to row 2 of sheet Treated side, which was not loaded")
    assert why["Fragment", 2].startswith("It belongs to row 2 of sheet Stone, which was not loaded")
    assert why["Stone", 2].startswith("Row 3 is the same stone: which is right cannot be told.")
    assert why["Stone", 3].startswith("stone_number: Row 2 is the same stone already")


def test_a_chain_of_dependants_is_followed_to_its_end(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("renal_unit", "solitary", "maybe", rows=PERFECT)
    good(registry, write_book(tmp_path / "b.xlsx", rows), tmp_path / "rejected.xlsx")
    why = {title: rows[0]["why not loaded"] for title, rows in rejected_rows(tmp_path / "rejected.xlsx").items()}
    on = {title: words.split("row 2 of sheet ")[1].split(",")[0] for title, words in why.items() if "sheet" in words}
    assert on["Course"] == "Renal unit"
    assert on["Stone"] == "Course"
    assert on["Stone aimed at"] in ("Treated side", "Stone")
    assert on["Fragment"] in ("Reading", "Stone")
    assert {"Operation", "Examination", "Patient", "Observations"}.isdisjoint(why)


def test_rows_that_name_a_rejected_one_stay_when_the_registry_has_it(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "first.xlsx", PERFECT), by="test")
    rows = with_cell(
        "operation", "purpose", "ureteroscopy", rows=PERFECT
    )  # the row is there, and its cell is wrong now
    rows["contact"].append({"study_number": "1001", "contacted_on": date(2024, 9, 1)})
    found = good(registry, write_book(tmp_path / "again.xlsx", rows), tmp_path / "rejected.xlsx")
    assert found.rejected == 1
    assert found.loaded.new == {"contact": 1}


def test_the_same_file_again_brings_nothing_twice_and_the_same_rejected_rows(
    registry: Registry, tmp_path: Path
) -> None:
    path = write_book(tmp_path / "b.xlsx", broken())
    first = good(registry, path, tmp_path / "rejected.xlsx")
    before = content(registry, tmp_path / "content.xlsx")
    again = good(registry, path, tmp_path / "rejected again.xlsx")
    assert again.loaded.batch_id is None
    assert again.rejected == first.rejected
    assert (tmp_path / "rejected again.xlsx").read_bytes() == (tmp_path / "rejected.xlsx").read_bytes()
    assert content(registry, tmp_path / "content.xlsx") == before
    assert load_file(registry, path, by="test").errors > 0  # as ever: all or nothing


def test_a_file_without_errors_is_loaded_whole(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", PERFECT)
    found = good(registry, path, tmp_path / "rejected.xlsx")
    assert (found.rejected, found.files, found.loaded.errors) == (0, [], 0)
    assert not (tmp_path / "rejected.xlsx").exists()
    assert load_file(registry, path, by="test").seen_before
    assert good(registry, path, tmp_path / "rejected.xlsx").loaded.seen_before


@pytest.mark.parametrize(
    "change",
    [
        lambda ws: put(ws.cell(1, 1), "study_no"),  # a heading nobody knows
        lambda ws: setattr(ws, "title", "Patients"),  # a sheet nobody knows
    ],
    ids=["heading", "sheet"],
)
def test_an_error_that_is_not_about_a_row_refuses_the_whole(change: Any, registry: Registry, tmp_path: Path) -> None:
    path = change_book(write_book(tmp_path / "b.xlsx", broken()), "patient", change)
    found = good(registry, path, tmp_path / "rejected.xlsx")
    assert found.refused
    assert found.loaded.batch_id is None
    assert found.loaded.errors > 1
    assert not (tmp_path / "rejected.xlsx").exists()
    assert content(registry, tmp_path / "content.xlsx") == {}


def test_cells_come_back_as_they_stood(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", broken())
    good(registry, path, tmp_path / "rejected.xlsx")
    book, rejected = openpyxl.load_workbook(path), openpyxl.load_workbook(tmp_path / "rejected.xlsx")
    for sheet in rejected.worksheets:
        columns = {cell.value: cell.column for cell in sheet[1]}
        old = {cell.value: cell.column for cell in book[sheet.title][1]}
        for row in range(2, sheet.max_row + 1):
            number = sheet.cell(row, columns["row in the file"]).value
            for heading, at in old.items():
                assert sheet.cell(row, columns[heading]).value == book[sheet.title].cell(number, at).value
                assert sheet.cell(row, columns[heading]).data_type == book[sheet.title].cell(number, at).data_type


def test_an_error_in_a_cell_comes_back_as_one(registry: Registry, tmp_path: Path) -> None:
    def change(ws: Any) -> None:
        ws["E2"], ws["F2"] = "#DIV/0!", "=1+1"  # length and width; openpyxl writes no result beside a formula

    path = change_book(write_book(tmp_path / "b.xlsx", case()), "stone", change)
    good(registry, path, tmp_path / "rejected.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "rejected.xlsx")["Stone"]
    cells = {head.value: sheet.cell(2, head.column) for head in sheet[1]}
    assert (cells["length_mm"].value, cells["length_mm"].data_type) == ("#DIV/0!", "e")
    assert (cells["width_mm"].value, cells["width_mm"].data_type) == ("#N/A", "e")
    again = good(registry, tmp_path / "rejected.xlsx", tmp_path / "again.xlsx")
    assert again.loaded.batch_id is None  # nobody mended it, so nothing may pass for a blank
    assert again.rejected == 3  # the stone, its aim and its fragment


def test_nothing_is_left_behind_when_the_load_fails(
    registry: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, target = write_book(tmp_path / "b.xlsx", broken()), tmp_path / "rejected.xlsx"
    seen: list[bool] = []

    def full(done: str, _: int, __: int) -> None:
        if done == "Writing":
            seen.append(target.exists())
            raise GravelbookError("The disk is full.")

    with pytest.raises(GravelbookError, match="disk is full"):
        good(registry, path, target, progress=full)
    assert seen == [True]  # the rejected rows stood before the registry was written
    assert not target.exists()
    target.write_text("an older one")
    with pytest.raises(GravelbookError, match="disk is full"):
        good(registry, path, target, progress=full, overwrite=True)
    assert target.read_text() == "an older one"
    assert content(registry, tmp_path / "content.xlsx") == {}


def test_what_is_there_is_not_replaced_unasked(registry: Registry, tmp_path: Path) -> None:
    path, target = write_book(tmp_path / "b.xlsx", broken()), tmp_path / "rejected.xlsx"
    target.write_text("mine")
    with pytest.raises(GravelbookError, match="is there already"):
        good(registry, path, target)
    with pytest.raises(GravelbookError, match="is the file that is read itself"):
        good(registry, path, path, overwrite=True)
    assert target.read_text() == "mine"
    assert good(registry, path, target, overwrite=True).rejected == 10


def test_every_row_can_be_wrong(registry: Registry, tmp_path: Path) -> None:
    rows: Rows = {"site": [{"site": "L B?", "name": "", "time_zone": "Nowhere"}], "operator": [{"operator": "OP1"}]}
    found = good(registry, write_book(tmp_path / "b.xlsx", rows), tmp_path / "rejected.xlsx")
    assert found.loaded.batch_id is None
    assert found.rejected == 2
    with registry.reading() as connection:
        assert connection.execute(metadata.tables["batch"].select()).all() == []


def test_findings_of_good_rows_are_said_beside_the_reasons(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("stone", "length_mm", 90, rows=broken())  # possible, but unlikely: rejected with its row
    rows["contact"].append({"study_number": "1001", "contacted_on": OPERATED, "stent_symptoms": 7})
    rows["observation_set"][0]["temperature_c"] = "101.3 F"
    found = good(registry, write_book(tmp_path / "b.xlsx", rows), tmp_path / "rejected.xlsx").loaded.findings
    questions = [f for f in found if f.severity is Severity.QUESTION]
    assert "Stone" not in {f.sheet for f in questions}  # it is asked again when the row is loaded
    assert any("101.3 F" in f.why for f in found)
    assert [f.sheet for f in found] == sorted((f.sheet for f in found), key=[f.sheet for f in found].index)


def test_names_are_not_repeated_in_the_reasons(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("patient_identity", "birth_date", "03/04/1960", rows=copy.deepcopy(PERFECT))
    rows["hospital_number"][0]["number"] = "77-secret" * 8
    found = good(registry, write_book(tmp_path / "b.xlsx", rows), tmp_path / "rejected.xlsx")
    assert found.rejected == 2
    rejected = rejected_rows(tmp_path / "rejected.xlsx")
    assert rejected["Hospital number"][0]["number"] == "77-secret" * 8  # the row itself is the person's own file
    said = " ".join(row["why not loaded"] for rows in rejected.values() for row in rows)
    assert "secret" not in said
    assert "1960" not in said
