"""Forms of hospital systems and American diaries: feet and inches, ISO moments; days and numbers gone wrong."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.intake.dates import NotReadError
from registry.intake.load_plan import make_plan
from registry.intake.log_cells import LogCell
from registry.intake.log_values_numbers import feet_cell
from registry.intake.source import Source
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.logs.mapping.logs import FIRST, HEAD, HEADINGS, case, errors, found, log, only, plan_of, write_rows

HEIGHT = '[[column]]\nheading = "Height"\nto = "operation.height_cm"\nunit = "ft in"\n'
STAY = '[[column]]\nheading = "In"\nto = "admission.admitted_on"\ndates = ["yyyy-mm-ddThh:mi:ss"]\n'


@given(
    st.integers(1, 8), st.integers(0, 11), st.sampled_from(["{}'{}\"", "{} ft {} in", "{}′ {}″", "{} feet {} inches"])
)
def test_feet_and_inches_are_inches(feet: int, inches: int, form: str) -> None:
    typed = form.format(feet, inches)
    assert feet_cell(LogCell(typed, typed)) == f"{feet * 12 + inches} in"


@pytest.mark.parametrize("typed", ["5.11", "5'12\"", "71"])
def test_feet_and_inches_are_not_guessed(typed: str) -> None:
    with pytest.raises(NotReadError):
        feet_cell(LogCell(typed, typed))


@pytest.mark.parametrize(
    ("typed", "cm"), [("5'11\"", 71 * 2.54), ("6'", 72 * 2.54), ("180 cm", 180.0), ("70 in", 70 * 2.54)]
)
def test_a_height_in_feet_and_inches(unit: Registry, tmp_path: Path, typed: str, cm: float) -> None:
    plan = plan_of(unit, case(tmp_path, HEIGHT, ["Height"], [typed]))
    assert only(plan, "operation")["height_cm"] == pytest.approx(cm)


def test_feet_and_inches_within_a_cell(unit: Registry, tmp_path: Path) -> None:
    split = '[[column]]\nheading = "Build"\nsplits = ["{operation.height_cm:ft in} / {operation.weight_kg:lb} lb"]\n'
    row = only(plan_of(unit, case(tmp_path, split, ["Build"], ["5'11\" / 200 lb"])), "operation")
    assert (row["height_cm"], row["weight_kg"]) == pytest.approx((71 * 2.54, 200 * 0.45359237))


def test_a_moment_as_systems_write_it(unit: Registry, tmp_path: Path) -> None:
    plan = plan_of(unit, case(tmp_path, STAY, ["In"], ["2024-05-02T17:45:00"]))
    assert only(plan, "admission")["admitted_on"] == date(2024, 5, 2)


def test_midnight_is_the_day_and_another_hour_needs_its_form(unit: Registry, tmp_path: Path) -> None:
    """As with a real date in a spreadsheet's cell: an hour is passed over only where the mapping names it."""
    undeclared = STAY.replace('dates = ["yyyy-mm-ddThh:mi:ss"]\n', "")
    plan = plan_of(unit, case(tmp_path, undeclared, ["In"], ["2024-05-02T00:00:00"]))
    assert only(plan, "admission")["admitted_on"] == date(2024, 5, 2)
    refused = make_plan(unit, case(tmp_path, undeclared, ["In"], ["2024-05-02T17:45:00"]))
    assert {one.column for one in errors(refused.findings.listed())} == {"D"}


def test_an_operation_of_another_century_is_a_question(unit: Registry, tmp_path: Path) -> None:
    long_ago, not_so_long = (date.today() - timedelta(days=round(365.25 * years)) for years in (62, 58))
    rows = [HEADINGS, *(["H-1", f"{day:%d.%m.%Y}", "L"] for day in (long_ago, not_so_long))]
    asked = found(make_plan(unit, log(tmp_path, rows, HEAD)), "log.day.long_ago")
    assert (asked.severity, asked.row, asked.column) == (Severity.QUESTION, 2, "B")


NAMES = '[[column]]\nheading = "Name"\nto = "patient_identity.family_name"\n'


@pytest.mark.parametrize(
    ("other", "name", "asked"),
    [
        ("18", "MOSSBANK", True),
        ("18", "", True),
        ("18", "THISTLEDOWN", False),
        ("XY-18", "MOSSBANK", False),
        ("19", "MOSSBANK", False),
    ],
)
def test_a_number_without_its_letters_and_zeros_is_a_question(
    unit: Registry, tmp_path: Path, other: str, name: str, asked: bool
) -> None:
    rows = [[*HEADINGS, "Name"], ["LB-000018", *FIRST[1:], "MOSSBANK"], [other, "04.06.2024", "R", name]]
    plan = make_plan(unit, log(tmp_path, rows, HEAD + NAMES))
    said = [one for one in plan.findings.listed() if one.rule == "log.patient.digits"]
    assert [(one.severity, one.row, one.column) for one in said] == [(Severity.QUESTION, 3, "A")] * asked
    assert not [one for one in said if other in one.value or (name and name in one.why)]


def test_a_side_of_which_only_equipment_is_told_is_cited_where_it_is_named(unit: Registry, tmp_path: Path) -> None:
    """The sheet of scopes names the other kidney: nothing says what was meant there, and no cell could."""
    mapping = HEAD.replace('[[constant]]\nto = "treated_side.intent"\nvalue = "stone_removal"\n', "")
    mapping += '[[column]]\nheading = "Aim"\nto = "treated_side.intent"\nfile = "cases.csv"\n'
    mapping += '[[column]]\nheading = "Scope"\nto = "equipment_model.shaft_tenths_fr"\nfile = "scopes.csv"\n'
    for to, value in (("equipment_model.kind", "scope"), ("equipment_use.result", "passed")):
        mapping += f'[[constant]]\nto = "{to}"\nvalue = "{value}"\n'
    source = log(tmp_path, [[*HEADINGS, "Aim"], [*FIRST, "stone_removal"]], mapping, "cases.csv")
    scopes = write_rows(tmp_path / "scopes.csv", [[*HEADINGS, "Scope"], [*FIRST[:2], "R", "7,5"]])
    plan = make_plan(unit, Source((*source.files, scopes), source.mapping))
    wrong = found(plan, "treated_side.intent.required")
    assert (wrong.file, wrong.row, wrong.column) == ("scopes.csv", 2, "C")
