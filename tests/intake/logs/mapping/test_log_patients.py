"""Whose row it is: by number, by study number, and by name and birth date only with a question."""

from __future__ import annotations

from pathlib import Path

from registry.intake.load_plan import make_plan
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import HEAD, HEADINGS, found, loaded, log, plan_of

NAMES = """
[[column]]
heading = "Name"
to = "patient_identity.family_name"
[[column]]
heading = "Born"
to = "patient_identity.birth_date"
"""
HEADINGS_NAMED = [*HEADINGS, "Name", "Born"]


def test_numbers_are_spelled_as_people_spell_them(unit: Registry, tmp_path: Path) -> None:
    rows = [HEADINGS, ["H-1", "03.05.2024", "L"], ["h 1", "04.06.2024", "L"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD))
    assert len(plan.new["patient"]) == 1


def test_the_registry_knows_the_patient(unit: Registry, tmp_path: Path) -> None:
    loaded(unit, log(tmp_path, [HEADINGS, ["H-1", "03.05.2024", "L"]], HEAD))
    rows = [HEADINGS, ["H-9", "01.05.2024", "L"], ["h1", "04.06.2024", "R"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD, "later.csv"))
    assert [patient["study_number"] for patient in plan.new["patient"]] == ["LB-00002"]
    assert plan.there["patient"] == 1


def test_a_study_number_of_the_log_is_nobody_elses(unit: Registry, tmp_path: Path) -> None:
    study = '[[column]]\nheading = "Study"\nto = "patient.study_number"\n'
    rows = [[*HEADINGS, "Study"], ["H-1", "03.05.2024", "L", ""], ["H-2", "04.05.2024", "L", "LB-00001"]]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + study))
    assert sorted(patient["study_number"] for patient in plan.new["patient"]) == ["LB-00001", "LB-00002"]


def test_a_row_that_names_nobody(unit: Registry, tmp_path: Path) -> None:
    plan = make_plan(unit, log(tmp_path, [HEADINGS, ["", "03.05.2024", "L"], ["H-2", "04.05.2024", "L"]], HEAD))
    finding = found(plan, "log.patient.named")
    assert (finding.row, finding.severity) == (2, Severity.ERROR)
    assert len(plan.new["operation"]) == 1


def test_name_and_birth_date_are_a_question_and_are_never_shown(unit: Registry, tmp_path: Path) -> None:
    rows = [
        HEADINGS_NAMED,
        ["H-1", "03.05.2024", "L", "Plantedname", "01.03.1960"],
        ["H-2", "04.06.2024", "L", "PLANTEDNAME", "01.03.1960"],
        ["", "05.07.2024", "R", "plantedname", "01.03.1960"],
    ]
    plan = plan_of(unit, log(tmp_path, rows, HEAD + NAMES))
    asked = [f for f in plan.findings.listed() if f.rule == "log.patient.same_name"]
    assert [(f.row, f.severity) for f in asked] == [(3, Severity.QUESTION), (4, Severity.QUESTION)]
    assert len(plan.new["patient"]) == 2
    text = repr(plan.findings.listed()).casefold()
    assert "plantedname" not in text and "1960" not in text


def test_a_name_alone_is_found_again_after_loading(unit: Registry, tmp_path: Path) -> None:
    rows = [HEADINGS_NAMED, ["", "03.05.2024", "L", "Doe", "01.03.1960"]]
    loaded(unit, log(tmp_path, rows, HEAD + NAMES))
    plan = plan_of(unit, log(tmp_path, rows, HEAD + NAMES + "# changed\n"))
    assert plan.new_rows == 0


def test_a_birth_date_that_cannot_be_read_is_not_shown(unit: Registry, tmp_path: Path) -> None:
    rows = [HEADINGS_NAMED, ["H-1", "03.05.2024", "L", "Doe", "01.13.1960"]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + NAMES))
    finding = found(plan, "patient_identity.birth_date.swapped")
    assert finding.column == "E" and "1960" not in repr(finding)


def test_what_two_rows_say_of_one_patient_has_to_agree(unit: Registry, tmp_path: Path) -> None:
    sex = '[[column]]\nheading = "Sex"\nto = "patient.sex"\nvalues = { F = "female", M = "male" }\n'
    rows = [[*HEADINGS, "Sex"], ["H-1", "03.05.2024", "L", "F"], ["H-1", "04.06.2024", "L", "M"]]
    finding = found(make_plan(unit, log(tmp_path, rows, HEAD + sex)), "log.row.agree")
    assert (finding.row, finding.column, finding.severity) == (3, "D", Severity.ERROR)
