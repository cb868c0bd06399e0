"""Operations as units: which are counted, and which side speaks for one of two sides."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from analysis.reports.complications.infection_section import infection_section
from analysis.reports.complications.operation_units import operation_units
from analysis.reports.request.source import ask_cohort
from analysis.reports.request.splits import Split
from tests.cohort.rows import Rows

from .observed_ward import asked, complained, observed, operated


def bilateral() -> Rows:
    """One operation of two sides: a loose sheath on the first, a tight one on the second."""
    rows = Rows()
    patient = rows.patient(sex="male", birth_year=1974)
    operation = operated(rows, patient=patient)
    second = rows.side(rows.unit(patient, "right"), operation=operation, conduct="completed")
    for side, inner in ((1, 120), (second, 90)):
        rows.used(side, rows.sheath(inner, inner + 20))
        rows.used(side, rows.scope(75))
    return rows


def test_an_operation_of_two_sides_is_one_unit_known_by_its_first_side(tmp_path: Path):
    units = operation_units(asked(bilateral(), tmp_path).cohort.sides_frame)
    assert (units.operation_id.tolist(), units.side_id.tolist()) == ([1], [1])


def test_for_the_ratio_its_tightest_side_speaks(tmp_path: Path):
    sides = asked(bilateral(), tmp_path).cohort.sides_frame
    assert operation_units(sides, (Split("scope_to_sheath_band"),)).side_id.tolist() == [2]


def test_operations_of_one_patient_are_one_cluster(tmp_path: Path):
    rows = bilateral()
    operated(rows, 50, patient=1)
    operated(rows, 60)
    assert operation_units(asked(rows, tmp_path).cohort.sides_frame).patient.tolist() == [0, 0, 1]


def test_only_what_treated_a_stone_is_counted_unless_all_are_asked_for(tmp_path: Path):
    rows = bilateral()
    operated(rows, intent="drainage")
    operated(rows, conduct="not_started")
    operated(rows, conduct="no_stone_found")
    sides = asked(rows, tmp_path).cohort.sides_frame
    assert len(operation_units(sides).operation_id) == 1
    assert len(operation_units(sides, (), {"denominator": "all"}).operation_id) == 4


def test_a_registry_and_the_frozen_rows_give_the_same_answer(tmp_path: Path, registry: Any, location: str):
    rows = bilateral()
    observed(rows, 1, 1, temperature_c=39.0, vasopressor="yes", lactate_mmol_l=2.5, coma_scale=14)
    complained(rows, 1, "sepsis", 1, "antibiotic")
    rows.add("culture", patient_id=1, operation_id=1, taken_on=rows.tables["operation"][0]["operated_on"],
             specimen="blood", result="positive", timing="after")  # fmt: skip
    frozen = infection_section(asked(rows, tmp_path), (), 0.95, "wilson", (30,), {})
    rows.written(registry)
    read = infection_section(ask_cohort(location), (), 0.95, "wilson", (30,), {})
    assert list(frozen.rows) == list(read.rows)
    assert {row["definition"] for row in read.rows if row["events"]} >= {"fever-from-38.0", "septic-shock-2016"}
