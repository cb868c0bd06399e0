"""One cell wrong, everything else right: the finding names the cell, the rule, and what is right."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest

from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.findings import Finding, Severity
from tests.intake.books import CASE, IDENTITY, with_cell, write_book

TODAY = date(2026, 1, 1)

# table, heading, value, rule, severity, words of the reason, words of what is right
MISTAKES: list[tuple[str, str, Any, str, str, str, str]] = [
    ("operation", "purpose", None, "operation.purpose.required", "error", "Purpose is blank", "always needed"),
    ("operation", "purpose", "refused", "operation.purpose.required", "error", "whatever the reason", "code"),
    (
        "stone",
        "length_mm",
        250,
        "stone.length_mm.within",
        "error",
        "above the highest allowed, 200 mm",
        "0.5 to 200 mm",
    ),
    (
        "stone",
        "length_mm",
        0,
        "stone.length_mm.within",
        "error",
        "below the lowest allowed, 0.5 mm",
        "longest diameter",
    ),
    ("stone", "length_mm", 90, "stone.length_mm.plausible", "question", "highest expected, 60 mm", "leave it if it is"),
    ("stone", "length_mm", "twelve", "stone.length_mm.type", "error", "'twelve' is not a number", "a number in mm"),
    ("stone", "length_mm", "5-7", "stone.length_mm.type", "error", "a range or a bound", "a number in mm"),
    ("stone", "length_mm", ">5", "stone.length_mm.type", "error", "a range or a bound", "a number in mm"),
    ("stone", "length_mm", "1,234", "stone.length_mm.type", "error", "decimals or thousands", "1.234 or 1234"),
    ("stone", "length_mm", "NaN", "stone.length_mm.type", "error", "that can be kept", "a number, or a blank cell"),
    ("stone", "length_mm", "inf", "stone.length_mm.type", "error", "that can be kept", "a number, or a blank cell"),
    ("stone", "length_mm", True, "stone.length_mm.type", "error", "a truth value", "a number"),
    ("stone", "length_mm", date(2024, 1, 7), "stone.length_mm.type", "error", "may have made it one", "a number"),
    ("stone", "length_mm", "12 parsec", "stone.length_mm.unit", "error", "'parsec' is not a unit", "mm, cm, m"),
    ("stone", "length_mm", "12 kg", "stone.length_mm.unit", "error", "'kg' is not a unit", "mm, cm, m"),
    ("operation", "operating_min", 3.5, "operation.operating_min.exact", "error", "not a whole number", "3 or 4 min"),
    (
        "operation",
        "operating_min",
        time(1, 30),
        "operation.operating_min.type",
        "error",
        "time of day",
        "a whole number",
    ),
    ("operation", "operating_min", timedelta(hours=30), "operation.operating_min.type", "error", "duration", "whole"),
    ("equipment_model", "shaft_tenths_fr", 9.55, "equipment_model.shaft_tenths_fr.exact", "error", "0.1", "9.5 or 9.6"),
    (
        "equipment_model",
        "shaft_tenths_fr",
        "95",
        "equipment_model.shaft_tenths_fr.within",
        "error",
        "95 Fr is above",
        "Fr",
    ),
    (
        "equipment_model",
        "shaft_tenths_fr",
        75,
        "equipment_model.shaft_tenths_fr.within",
        "error",
        "75 Fr is above the highest allowed, 40 Fr. For 7.5 Fr, type 7.5 (Fr), not 75.",
        "Fr",
    ),
    (
        "equipment_model",
        "wire_thousandths_inch",
        35,
        "equipment_model.wire_thousandths_inch.within",
        "error",
        "For 0.035 in, type 0.035 (in), not 35.",
        "in",
    ),
    ("operation", "operating_min", "1h30", "operation.operating_min.type", "error", "more than one number", "in min"),
    ("stone", "length_mm", "5 mm x 7 mm", "stone.length_mm.type", "error", "more than one number", "in mm"),
    (
        "operation",
        "asa_class",
        "II",
        "operation.asa_class.listed",
        "error",
        "on the list of ASA class",
        "1, 2, 3, 4, 5",
    ),
    ("patient", "sex", "f", "patient.sex.listed", "error", "not on the list of sex", "perhaps female"),
    (
        "treated_side",
        "technique",
        "flexible, open",
        "side_technique.technique.listed",
        "error",
        "'flexible, open'",
        "separated by semicolons; perhaps flexible",
    ),
    ("patient", "sex", "femal", "patient.sex.listed", "error", "not on the list of sex", "perhaps female"),
    ("patient", "condition", "cystinuria; gout", "predisposition.condition.listed", "error", "'gout'", "one of"),
    ("patient", "condition", "not_recorded", "predisposition.condition.listed", "error", "stated reason", "blank"),
    (
        "contact",
        "contacted_on",
        "03/04/2024",
        "contact.contacted_on.type",
        "error",
        "can be two days",
        "2024-04-03 or 2024-03-04",
    ),
    (
        "contact",
        "contacted_on",
        "25/12/2024",
        "contact.contacted_on.type",
        "error",
        "the day or the month first",
        "2024-12-25",
    ),
    ("contact", "contacted_on", "2024-02-31", "contact.contacted_on.type", "error", "not in the calendar", "exists"),
    ("contact", "contacted_on", "2024-05", "contact.contacted_on.type", "error", "known to the day", "2024-05-01"),
    ("contact", "contacted_on", 45000, "contact.contacted_on.type", "error", "not a date; its format", "year first"),
    (
        "contact",
        "contacted_on",
        date(2030, 1, 1),
        "contact.contacted_on.not_ahead",
        "error",
        "after today",
        "2026-01-01",
    ),
    (
        "contact",
        "contacted_on",
        datetime(2024, 8, 1, 9, 30),
        "contact.contacted_on.type",
        "error",
        "time of day",
        "2024-08-01",
    ),
    ("operation", "started_at", date(2024, 5, 3), "operation.started_at.type", "error", "no time of day", "08:30"),
    ("operation", "started_at", "2024-03-31 01:30", "operation.started_at.type", "error", "happened never", "offset"),
    ("operation", "started_at", "2024-10-27 01:30", "operation.started_at.type", "error", "happened twice", "offset"),
    ("patient", "study_number", "1" * 21, "patient.study_number.length", "error", "21 characters", "at most 20"),
    ("equipment_item", "serial", "a\nb", "equipment_item.serial.type", "error", "a line break", "one line"),
    ("equipment_item", "serial", 1e15, "equipment_item.serial.type", "error", "more digits", "formatted as text"),
    (
        "fragment",
        "diameter_high_mm",
        1,
        "fragment.diameter.low_to_high",
        "error",
        "1 mm, is less than the low",
        "no more",
    ),
    ("treated_side", "stage_number", -1, "treated_side.stage_number.within", "error", "below the lowest", "0 to 20"),
    (
        "treated_side",
        "course_number",
        7,
        "treated_side.course_id.exists",
        "error",
        "no row of Course with",
        "sheet Course",
    ),
    (
        "equipment_use",
        "model_code",
        None,
        "equipment_use.equipment_model_id.named",
        "error",
        "model_code is blank",
        "model",
    ),
    ("contact", "study_number", "77", "contact.patient_id.exists", "error", "no row of Patient with", "sheet Patient"),
    (
        "observation_set",
        "operated_on",
        "2024-05-04",
        "observation_set.operation_id.exists",
        "error",
        "Operation",
        "operated_on",
    ),
    ("fragment", "course_number", 2, "fragment.stone_id.exists", "error", "no row of Course with", "sheet Course"),
]


def findings_of(registry: Registry, path: Path) -> list[Finding]:
    return make_plan(registry, path, today=TODAY).findings.listed()


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: f"{m[0]}.{m[1]}={m[2]}")
def test_a_wrong_cell_is_found_and_explained(mistake: tuple[Any, ...], registry: Registry, tmp_path: Path) -> None:
    table, heading, value, rule, severity, why, right = mistake
    path = write_book(tmp_path / "wrong.xlsx", with_cell(table, heading, value))
    clean = {(f.rule, f.place) for f in findings_of(registry, write_book(tmp_path / "right.xlsx", CASE))}
    found = [f for f in findings_of(registry, path) if f.rule == rule]
    assert found, [f.rule for f in findings_of(registry, path)]
    first = found[0]
    assert (first.rule, first.place) not in clean
    assert first.severity == severity
    assert why in first.why
    assert right in first.right
    assert first.row == 2
    assert first.heading == heading
    assert first.column == chr(ord("A") + list(with_cell(table, heading, value)[table][0]).index(heading))


def test_the_case_itself_has_no_errors(registry: Registry, tmp_path: Path) -> None:
    found = findings_of(registry, write_book(tmp_path / "right.xlsx", {**CASE, **IDENTITY}))
    assert [f for f in found if f.severity is not Severity.NOTE] == []


def test_every_problem_is_listed_at_once(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("stone", "length_mm", "long")
    rows["contact"][0]["contacted_on"] = "03/04/2024"
    rows["patient"][1]["sex"] = "x"
    found = findings_of(registry, write_book(tmp_path / "three.xlsx", rows))
    assert [f.rule for f in found if f.severity is Severity.ERROR] == [
        "patient.sex.listed",
        "stone.length_mm.type",
        "contact.contacted_on.type",
    ]


def test_no_value_that_names_a_person_is_repeated(registry: Registry, tmp_path: Path) -> None:
    rows = {**CASE, **with_cell("patient_identity", "birth_date", "03/04/1960", rows=IDENTITY)}
    rows = with_cell("patient", "note", "Mrs Doe " * 600, rows=rows)
    rows = with_cell("hospital_number", "number", "77-secret" * 8, rows=rows)
    found = [
        f for f in findings_of(registry, write_book(tmp_path / "names.xlsx", rows)) if f.severity is Severity.ERROR
    ]
    assert len(found) == 3
    said = " ".join(f"{f.value} {f.why} {f.right}" for f in found)
    assert "Doe" not in said
    assert "secret" not in said
    assert {f.value for f in found} == {"(not shown)"}


def test_a_link_to_a_row_with_an_error_of_its_own_is_no_second_error(registry: Registry, tmp_path: Path) -> None:
    found = findings_of(registry, write_book(tmp_path / "one.xlsx", with_cell("patient", "sex", "x")))
    assert [f.rule for f in found if f.severity is Severity.ERROR] == ["patient.sex.listed"]


def test_a_missing_patient_is_said_once_a_row(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("fragment", "study_number", "88")
    found = findings_of(registry, write_book(tmp_path / "gone.xlsx", rows))
    assert [(f.rule, f.heading) for f in found if f.severity is Severity.ERROR] == [
        ("fragment.reading_id.exists", "study_number")
    ]


@pytest.mark.parametrize(
    ("table", "heading", "errors"), [("drain", "planned_removal_on", 0), ("drain", "removed_on", 1)]
)
def test_only_days_declared_so_may_lie_ahead(
    table: str, heading: str, errors: int, registry: Registry, tmp_path: Path
) -> None:
    drain = {"study_number": "1001", "unit": "left", "placed_on": date(2024, 5, 3), "kind": "stent"}
    rows = {**CASE, table: [{**drain, heading: date(2026, 2, 1)}]}
    found = make_plan(registry, write_book(tmp_path / "b.xlsx", rows), today=TODAY).findings.listed()
    rules = [f.rule for f in found if f.severity is Severity.ERROR]
    assert rules == [f"{table}.{heading}.not_ahead"] * errors


def test_what_hangs_on_a_row_that_could_not_be_read_is_told_so(registry: Registry, tmp_path: Path) -> None:
    rows = with_cell("operation", "operated_on", "03/05/2024")
    found = make_plan(registry, write_book(tmp_path / "b.xlsx", rows), today=TODAY).findings.listed()
    hanging = [f for f in found if f.rule == "treated_side.operation_id.exists"]
    assert len(hanging) == 1
    assert "In sheet Operation row 2 could not be read: it may be there." in hanging[0].why
