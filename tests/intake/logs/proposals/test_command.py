"""The command: what it prints and writes, and what it refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from openpyxl import Workbook

from registry.intake.commands import intake
from registry.intake.log_mapping_reader import read_mapping
from registry.schema.errors import GravelbookError
from tests.intake.logs.proposals.styles import THEATRE


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(intake, ["map", *map(str, words)], catch_exceptions=False)


def test_it_prints_a_table_and_writes_nothing_without_being_told_where(tmp_path: Path) -> None:
    log = THEATRE.write(tmp_path)
    ran = run(log)
    assert ran.exit_code == 0
    assert "21 of 26 columns are proposed, 5 left to you." in ran.stdout
    assert "Nothing was written." in ran.stdout
    assert [path.name for path in tmp_path.iterdir()] == [log.name]


def test_it_writes_a_mapping_and_says_what_to_do_next(tmp_path: Path) -> None:
    target = tmp_path / "m.toml"
    ran = run(THEATRE.write(tmp_path), "--output", target, "--name", "theatre log")
    assert f"--mapping {target}" in ran.stdout
    assert read_mapping(target).name == "theatre log"
    assert "gravelbook intake check" in target.read_text(encoding="utf-8")


def test_it_overwrites_only_when_told(tmp_path: Path) -> None:
    log, target = THEATRE.write(tmp_path), tmp_path / "m.toml"
    target.write_text("mended by hand", encoding="utf-8")
    with pytest.raises(GravelbookError, match="is there already and was left as it is"):
        run(log, "--output", target)
    assert target.read_text(encoding="utf-8") == "mended by hand"
    run(log, "--output", target, "--overwrite")
    assert read_mapping(target).columns


@pytest.mark.parametrize(("target", "why"), [("m.xlsx", "does not end in .toml"), ("none/m.toml", "no folder")])
def test_it_refuses_places_that_cannot_be(target: str, why: str, tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match=why):
        run(THEATRE.write(tmp_path), "--output", tmp_path / target)


def test_json_goes_to_standard_output_alone(tmp_path: Path) -> None:
    body = json.loads(run(THEATRE.write(tmp_path), "--format", "json").stdout)
    number = next(column for column in body["columns"] if column["heading"] == "MRN")
    assert (number["to"], number["proposed"]) == (["hospital_number.number"], True)
    assert [(one["to"], one["value"]) for one in body["taken"]] == [("operation.purpose", "stone_removal")]


def test_a_log_without_rows_is_refused(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("MRN,Op date\n", encoding="utf-8")
    with pytest.raises(GravelbookError, match="holds headings and no rows"):
        run(log)


def test_rows_of_totals_are_named_and_count_for_nothing(tmp_path: Path) -> None:
    log, target = tmp_path / "log.csv", tmp_path / "m.toml"
    rows = [f"70{n}11,{8 + n}" for n in range(8)]
    log.write_text("\n".join(["MRN,Stone size (mm)", *rows, "Total,923"]) + "\n", encoding="utf-8")
    assert "all 8 values are numbers within the limits" in run(log, "--output", target).stdout
    assert read_mapping(target).reading.totals == ("Total",)


def test_two_heading_rows_are_read_together(tmp_path: Path) -> None:
    book = Workbook()
    sheet = book.active
    sheet.title = "2023"
    sheet.append(["Patient", None, "Stone 1", None, "Stone 2", None, "Sheath", None])
    sheet.append(["MRN", "Sex", "size (mm)", "location", "size (mm)", "location", "inner Fr", "outer Fr"])
    for n in range(8):
        sheet.append([f"70{n}11", "MF"[n % 2], 8 + n, "LP", 7, "MP", 10, 12])
    for cells in ("A1:B1", "C1:D1", "E1:F1", "G1:H1"):
        sheet.merge_cells(cells)
    other = book.create_sheet("2024")
    for row in sheet.iter_rows(max_row=4, values_only=True):
        other.append(row)
    log, target = tmp_path / "log.xlsx", tmp_path / "m.toml"
    book.save(log)
    assert run(log, "--output", target).exit_code == 0
    mapping = read_mapping(target)
    assert mapping.reading.headings_in_rows == (1, 2)
    assert {(c.heading, c.group, c.to[0].text) for c in mapping.columns} == {
        ("patient / mrn", "1", "hospital_number.number"), ("patient / sex", "1", "patient.sex"),
        ("stone 1 / size (mm)", "1", "stone.length_mm"), ("stone 1 / location", "1", "stone.location"),
        ("stone 2 / size (mm)", "2", "stone.length_mm"), ("stone 2 / location", "2", "stone.location"),
        ("sheath / inner fr", "sheath", "equipment_model.inner_tenths_fr"),
        ("sheath / outer fr", "sheath", "equipment_model.outer_tenths_fr"),
    }  # fmt: skip
