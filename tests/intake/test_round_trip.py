"""The registry written as a workbook and loaded again is the same record."""

from __future__ import annotations

import stat
from datetime import date
from pathlib import Path

import openpyxl
import pytest

from registry.intake.load import load_file
from registry.intake.workbook_writer import write_workbook
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.record_hash import record_hash
from registry.store.registry import Registry
from tests.intake.books import CASE, IDENTITY, case, write_book

AWKWARD = [
    "=1+1",
    "@import",
    "+49",
    "-",
    "#N/A",
    "'quoted",
    '"refused"',
    "refused",
    "Missing: pending",
    '""not_done""',
    " leading and trailing ",
    "\n",
    "line\r\nbreak\rand\ttab",
    "_x000D_ is not a line break",
    "bell \x07 and null-free",
    "Ärzte, 数, \U0001f600, e\u0301 and \u00e9, \u202eright to left",
    "x" * 4000,
    "",
    "2024-05-03",
    "007",
    "1e5",
    "TRUE",
    "a;b=c",
]


def awkward_case() -> dict[str, list[dict[str, object]]]:
    """The case with all that could be lost on the way."""
    rows = case()
    rows["patient"][0]["research_use"] = "missing: refused"
    rows["patient"][1].update(sex="not_recorded", last_known_alive_on="2024", research_use="no")
    rows["observation_set"][0].update(
        temperature_c="101.3 F", platelets_g_l=0.30000000000000004, operated_on="not_done"
    )
    rows["stone"][0].update(
        volume_mm3=123456.789012345, length_mm=199.9, depth_mm=199.9, site_filled="pelvis; superior_major"
    )
    rows["equipment_item"].append({"model_code": "sheath", "serial": "=007"})
    rows["examination"].append(
        {"study_number": "0042", "examined_on": "2023-07", "modality": "kub", "not_done": "refused"}
    )
    rows["operation"][0].update(signed_off_by="ab", signed_off_at="2024-05-04T10:00:00.123456+02:00")
    return rows


def test_written_and_loaded_again_it_is_the_same_record(two_engines: tuple[Registry, Registry], tmp_path: Path) -> None:
    first, second = two_engines
    loaded = load_file(first, write_book(tmp_path / "b.xlsx", {**awkward_case(), **IDENTITY}), by="test")
    assert loaded.errors == 0, loaded.findings
    with first.writing(by="test") as door:
        for number, note in enumerate(AWKWARD, start=1):
            values = {"study_number": f"N{number:03}", "site_id": 1, "note": note, "died_on": date(1900, 1, number)}
            patient = door.insert("patient", values)
            door.insert("contact", {"patient_id": patient, "contacted_on": date(1900, 2, 28), "note": "not_done"})
    written = write_workbook(first, tmp_path / "w.xlsx")
    assert written.lost == []
    again = load_file(second, tmp_path / "w.xlsx", by="test", reason="signed-off operations come along")
    assert again.errors == 0, again.findings
    assert sum(again.new.values()) > written.rows  # folded lists are rows of their own
    assert record_hash(first) == record_hash(second)
    write_workbook(second, tmp_path / "w2.xlsx")
    assert (tmp_path / "w.xlsx").read_bytes() == (tmp_path / "w2.xlsx").read_bytes()


def test_no_identity_is_written_and_no_text_becomes_a_formula(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}), by="test")
    write_workbook(registry, tmp_path / "w.xlsx")
    book = openpyxl.load_workbook(tmp_path / "w.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert "Hospital number" not in book.sheetnames
    assert not [cell for cell in cells if cell.data_type in ("f", "e")]
    assert not [cell for cell in cells if str(cell.value) in ("Doe", "H-77 12", "1960-03-01")]
    assert [cell.value for cell in cells if str(cell.value).startswith("=")] == ["=SUM(A1)"]


def test_rows_are_written_in_the_order_of_their_keys(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    write_workbook(registry, tmp_path / "w.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "w.xlsx")["Patient"]
    assert [row[1].value for row in sheet.iter_rows(min_row=2)] == ["0042", "1001"]


def test_the_wording_as_typed_comes_back_unless_the_value_was_changed(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    with registry.writing(by="test", reason="measured again") as door:
        door.update("observation_set", 1, {"creatinine_umol_l": 99.0}, revision=1)
    write_workbook(registry, tmp_path / "w.xlsx")
    book = openpyxl.load_workbook(tmp_path / "w.xlsx")
    row = {h.value: c.value for h, c in zip(book["Observations"][1], book["Observations"][2], strict=True)}
    assert row["creatinine_umol_l"] == 99
    row = {h.value: c.value for h, c in zip(book["Operation"][1], book["Operation"][2], strict=True)}
    assert (row["operating_min"], row["height_cm"], row["weight_kg"]) == ("1.5 h", "not_done", None)


def test_what_the_layout_cannot_say_is_said(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    with registry.writing(by="test") as door:
        stage = door.insert("planned_stage", {"course_id": 1, "stage_number": 1, "decided_on": date(2024, 5, 3)})
        entry = {"patient_id": 2, "occurred_on": date(2024, 6, 1), "what": "retreatment", "planned_stage_id": stage}
        patient = door.read(metadata.tables["course"], 1)["renal_unit_id"]
        entry["patient_id"] = door.read(metadata.tables["renal_unit"], patient)["patient_id"]
        door.insert("later_entry", entry)
    written = write_workbook(registry, tmp_path / "w.xlsx")
    assert any("unit is written for one link" in sentence for sentence in written.lost)


@pytest.mark.parametrize(
    ("name", "words"),
    [("there.xlsx", "is there already"), ("b.csv", "does not end in .xlsx"), ("no/b.xlsx", "There is no folder")],
)
def test_nothing_is_overwritten(name: str, words: str, registry: Registry, tmp_path: Path) -> None:
    (tmp_path / "there.xlsx").write_bytes(b"mine")
    with pytest.raises(GravelbookError, match=words):
        write_workbook(registry, tmp_path / name)
    assert (tmp_path / "there.xlsx").read_bytes() == b"mine"


def test_overwriting_replaces_the_file_whole(registry: Registry, tmp_path: Path) -> None:
    path = tmp_path / "there.xlsx"
    path.write_bytes(b"mine")
    write_workbook(registry, path, overwrite=True)
    assert openpyxl.load_workbook(path).sheetnames[0] == "read me"
    assert [p.name for p in tmp_path.iterdir() if p.suffix == ".part"] == []
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
