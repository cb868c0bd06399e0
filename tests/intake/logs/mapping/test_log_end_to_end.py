"""A flat log becomes rows of the registry, and is there already when it is loaded again."""

from __future__ import annotations

from pathlib import Path

import openpyxl
from sqlalchemy import select

from registry.intake.load import load_file
from registry.intake.load_plan import make_plan
from registry.intake.source import Source
from registry.schema.tables import metadata
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.conftest import MakeRegistry
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, errors, loaded, log, plan_of, with_site, write_rows

STONES = """
[[column]]
heading = "Stone {n} size"
each = [1, 2]
to = "stone.length_mm"
unit = "cm"
[[column]]
heading = "Stone {n} place"
each = [1, 2]
to = "stone.location"
values = { LP = "lower_calyx", RP = "pelvis" }
[[column]]
heading = "Sheath"
splits = ["{equipment_model.inner_tenths_fr}/{equipment_model.outer_tenths_fr} Fr {equipment_model.length_cm}cm"]
group = "sheath"
[[column]]
heading = "Surgeon"
to = "operation_operator.operator"
[[constant]]
to = "operation_operator.role"
value = "first"
[[constant]]
to = "equipment_model.kind"
value = "access_sheath"
group = "sheath"
[[ignore]]
heading = "Ward"
"""
MORE = ["Stone 1 size", "Stone 1 place", "Stone 2 size", "Stone 2 place", "Sheath", "Surgeon", "Ward"]
ROWS = [
    [*HEADINGS, *MORE],
    ["H-1", "03.05.2024", "L", "1,2", "LP", "0,5", "RP", "10/12 Fr 45cm", "OP1", "A"],
    ["H-2", "04.05.2024", "R", "", "", "0,8", "LP", "", "OP2", "A"],
    ["H-1", "03.05.2024", "R", "2", "RP", "", "", "12/14 Fr 36 cm", "OP1", "B"],
    ["H-1", "05.06.2024", "L", "0,6", "LP", "", "", "", "OP1", "B"],
]


def test_the_operator_of_a_row_is_kept_at_its_operation_however_the_mapping_names_him(
    unit: Registry, tmp_path: Path
) -> None:
    stones = STONES.replace('to = "operation_operator.operator"', 'to = "operator.operator"')
    plan = plan_of(unit, log(tmp_path, ROWS, HEAD + stones))
    assert {table: len(plan.new[table]) for table in ("operator", "operation_operator")} == {
        "operator": 2,
        "operation_operator": 3,
    }


def test_groups_of_columns_become_rows(unit: Registry, tmp_path: Path) -> None:
    plan = plan_of(unit, log(tmp_path, ROWS, HEAD + STONES))
    counts = {table: len(rows) for table, rows in plan.new.items() if rows}
    assert counts == {
        "equipment_model": 2,
        "operator": 2,
        "patient": 2,
        "renal_unit": 3,
        "course": 4,  # one for each removal of each kidney
        "operation": 3,  # the third row is the other side of the first
        "operation_operator": 3,
        "stone": 5,
        "treated_side": 4,
        "equipment_use": 2,
        "hospital_number": 2,
    }
    # A group keeps its number, whatever else stands in the row: the second row has a second stone alone.
    assert sorted((s["stone_number"], s["length_mm"]) for s in plan.new["stone"]) == [
        (1, 6.0),
        (1, 12.0),
        (1, 20.0),
        (2, 5.0),
        (2, 8.0),
    ]
    codes = sorted(model["model_code"] for model in plan.new["equipment_model"])
    assert codes == ["access_sheath 10/12 Fr 45 cm", "access_sheath 12/14 Fr 36 cm"]
    assert {patient["study_number"] for patient in plan.new["patient"]} == {"LB-00001", "LB-00002"}
    assert plan.file.source == "theatre log"


def test_loading_twice_changes_nothing(two_engines: tuple[Registry, Registry], tmp_path: Path) -> None:
    registry = with_site(two_engines[0])
    source = log(tmp_path, ROWS, HEAD + STONES)
    first = loaded(registry, source)
    assert load_file(registry, source, by="test").seen_before
    again = plan_of(registry, log(tmp_path, [*ROWS, ["H-3", "01.07.2024", "L", "1", "RP"]], HEAD + STONES, "next.csv"))
    assert sum(again.there.values()) == sum(n for t, n in first.new.items())
    assert {table: len(rows) for table, rows in again.new.items() if rows} == {
        "patient": 1,
        "renal_unit": 1,
        "course": 1,
        "operation": 1,
        "stone": 1,
        "treated_side": 1,
        "hospital_number": 1,
    }


def test_reading_twice_gives_the_same_rows(unit: Registry, tmp_path: Path) -> None:
    source = log(tmp_path, ROWS, HEAD + STONES)
    first, second = plan_of(unit, source), plan_of(unit, source)
    assert first.new == second.new
    assert first.findings.listed() == second.findings.listed()


def test_courses_follow_one_another(unit: Registry, tmp_path: Path) -> None:
    loaded(unit, log(tmp_path, ROWS, HEAD + STONES))
    side, course = metadata.tables["treated_side"].c, metadata.tables["course"].c
    operation, renal_unit = metadata.tables["operation"].c, metadata.tables["renal_unit"].c
    query = select(operation.operated_on, renal_unit.unit, course.course_number, side.stage_number).where(
        side.operation_id == operation.id, side.course_id == course.id, side.renal_unit_id == renal_unit.id
    )
    with unit.reading() as connection:
        rows = sorted((str(day), str(unit), n, stage) for day, unit, n, stage in connection.execute(query))
    assert rows == [
        ("2024-05-03", "left", 1, 0),
        ("2024-05-03", "right", 1, 0),
        ("2024-05-04", "right", 1, 0),
        ("2024-06-05", "left", 2, 0),
    ]


def test_a_planned_stage_belongs_to_the_course_before(unit: Registry, tmp_path: Path) -> None:
    stage = '[[column]]\nheading = "Stage"\nto = "treated_side.stage_number"\n'
    rows = [[*HEADINGS, "Stage"], ["H-1", "05.06.2024", "L", "1"], ["H-1", "03.05.2024", "L", ""]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + stage))
    assert [course["course_number"] for course in plan.new["course"]] == [1]
    assert [side["stage_number"] for side in plan.new["treated_side"]] == [0, 1]


def test_a_finding_names_the_cell_of_the_log(unit: Registry, tmp_path: Path) -> None:
    rows = [*ROWS[:2], ["H-2", "04.05.2024", "R", "120", "LP"]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + STONES))
    wrong = errors(plan.findings.listed())
    assert [(f.file, f.row, f.column, f.heading, f.rule) for f in wrong] == [
        ("log.csv", 3, "D", "Stone 1 size", "stone.length_mm.within")
    ]


def test_a_split_cell_keeps_its_address(unit: Registry, tmp_path: Path) -> None:
    rows = [*ROWS[:1], ["H-1", "03.05.2024", "L", "", "", "", "", "10/12 Fr 4500cm", "OP1", "A"]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + STONES))
    wrong = errors(plan.findings.listed())
    assert [(f.row, f.column, f.value) for f in wrong] == [(2, "H", "10/12 Fr 4500cm")]


def test_a_workbook_with_real_dates_and_two_sheets(unit: Registry, tmp_path: Path) -> None:
    from datetime import datetime

    book = openpyxl.Workbook()
    for title, day in (("2023", datetime(2023, 5, 3)), ("2024", datetime(2024, 5, 3))):
        sheet = book.create_sheet(title)
        sheet.append(["MRN", "Date", "Side"])
        sheet.append([1234, day, "L"])
    book.save(tmp_path / "log.xlsx")
    mapping = tmp_path / "m.toml"
    mapping.write_text(HEAD.replace("[reading]", '[reading]\nsheets = ["2023", "2024"]'), encoding="utf-8")
    plan = plan_of(unit, Source((tmp_path / "log.xlsx",), mapping))
    assert [str(one["operated_on"]) for one in plan.new["operation"]] == ["2023-05-03", "2024-05-03"]
    assert len(plan.new["patient"]) == 1
    assert [number["number"] for number in plan.new["hospital_number"]] == ["1234"]


def test_two_files_meet_through_hospital_number_and_date(unit: Registry, tmp_path: Path) -> None:
    more = """
[[column]]
heading = "Scanned"
file = "scans*"
to = "examination.examined_on"
[[column]]
heading = "Largest"
file = "scans*"
to = ["fragment.diameter_low_mm", "fragment.diameter_high_mm"]
[[constant]]
to = "examination.modality"
value = "ct"
[[constant]]
to = "fragment.kind"
value = "single"
"""
    mapping = tmp_path / "m.toml"
    mapping.write_text(HEAD + more, encoding="utf-8")
    log_file = write_rows(tmp_path / "log.csv", [HEADINGS, ["H-1", "03.05.2024", "L"], ["H-2", "04.05.2024", "R"]])
    scans = write_rows(tmp_path / "scans.csv", [["MRN", "Side", "Scanned", "Largest"], ["h 1", "L", "02.06.2024", "3"]])
    plan = plan_of(unit, Source((log_file, scans), mapping))
    assert {t: len(r) for t, r in plan.new.items() if t in ("patient", "operation", "reading", "fragment")} == {
        "patient": 2,
        "operation": 2,
        "reading": 1,
        "fragment": 1,
    }


def test_a_file_of_complications_hangs_on_the_operations_of_another(unit: Registry, tmp_path: Path) -> None:
    fever = '[[column]]\nheading = "What"\nfile = "comp*"\nto = "complication.what"\n'
    mapping = tmp_path / "m.toml"
    mapping.write_text(HEAD + fever, encoding="utf-8")
    first = write_rows(tmp_path / "log.csv", [HEADINGS, ["H-1", "03.05.2024", "L"]])
    second = write_rows(
        tmp_path / "comp.csv",
        [["MRN", "Date", "What"], ["H-1", "03.05.2024", "fever"], ["H-1", "03.05.2024", "colic"]],
    )
    for files in ((first, second), (second, first)):
        plan = plan_of(unit, Source(files, mapping))
        assert len(plan.new["operation"]) == 1 and len(plan.new["treated_side"]) == 1
        numbers = [(one["complication_number"], str(one["what"])) for one in plan.new["complication"]]
        assert sorted(numbers) == [(1, "fever"), (2, "colic")]


def test_identical_rows_are_one_and_different_ones_two_visits(unit: Registry, tmp_path: Path) -> None:
    rows = [ROWS[0], ROWS[1], ROWS[1], [*ROWS[1][:3], "0,9", "LP"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + STONES))
    assert [(f.row, f.severity) for f in plan.findings.listed() if f.rule == "log.row.once"] == [(3, Severity.NOTE)]
    assert [(f.row, f.severity) for f in plan.findings.listed() if f.rule == "log.visit.again"] == [
        (4, Severity.QUESTION)
    ]
    assert [operation["day_number"] for operation in plan.new["operation"]] == [1, 2]


def test_unknown_site_and_no_site(make_registry: MakeRegistry, tmp_path: Path) -> None:
    import pytest

    from registry.schema.errors import GravelbookError

    with pytest.raises(GravelbookError, match="names no site, and the registry has none yet"):
        make_plan(make_registry(), log(tmp_path, ROWS, HEAD + STONES))
    with pytest.raises(GravelbookError, match=r"for the site 'LX'.*perhaps LB"):
        make_plan(with_site(make_registry()), log(tmp_path, ROWS, 'site = "LX"\n' + HEAD + STONES))
