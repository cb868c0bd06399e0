"""The section on infection, and its cases, over real snapshots."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from analysis.reports.complications.infection_section import infection_cases, infection_section
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.splits import Split
from analysis.reports.sections.rendered import rendered
from analysis.reports.sections.report import Report, Section
from tests.cohort.rows import Rows, day

from .observed_ward import asked, complained, observed, operated

FEVER, SIRS = "fever-from-38.0", "sirs-1992"
CALM = {"temperature_c": 36.8, "heart_rate_min": 70, "respiratory_rate_min": 14, "white_cells_g_l": 7.0}


def section(rows: Rows, tmp_path: Path, *by: Split, days: tuple[int, ...] = (30,), **settings: str) -> Section:
    return infection_section(asked(rows, tmp_path), by, 0.95, "wilson", days, settings)


def row(made: Section, definition: str, window: int = 30, group: dict[str, str] | None = None) -> dict[str, Any]:
    found = [
        one
        for one in made.rows
        if one["definition"] == definition and one["window"] == window and group in (None, one["group"])
    ]
    assert len(found) == 1, [one["definition"] for one in made.rows]
    return dict(found[0])


def ward() -> Rows:
    """Ten operations: three with fever, four measured and without, three never measured."""
    rows = Rows()
    for at in range(10):
        operation = operated(rows, at)
        if at < 7:
            observed(rows, operation, 1, **{**CALM, "temperature_c": 38.4 if at < 3 else 37.0})
    return rows


def test_fever_is_counted_among_the_measured_and_the_unmeasured_make_the_bounds(tmp_path: Path):
    made = row(section(ward(), tmp_path), FEVER)
    assert (made["n"], made["events"], made["unknown"], made["not_due"]) == (7, 3, 3, 0)
    assert made["estimate"] == pytest.approx(3 / 7)
    assert made["not_computable"] == {"temperature": 3}
    assert (made["lower"], made["upper"]) == (pytest.approx(3 / 10), pytest.approx(6 / 10))


def test_every_row_says_what_it_was_computed_under(tmp_path: Path):
    made = section(ward(), tmp_path)
    for one in made.rows:
        told = made.definition["definitions"][one["definition"]]
        assert told["version"] and told["source"] and told["rule"]
    sepsis = {one["definition"]: one["sepsis_definition"] for one in made.rows if "sepsis_definition" in one}
    assert set(sepsis) == {"sepsis-1991", "sepsis-3-2016", "septic-shock-2016"}
    assert {one["kind"] for one in made.rows} == {"computed", "recorded"}


def test_fever_has_its_48_hours_beside_the_windows_asked_for(tmp_path: Path):
    rows = ward()
    observed(rows, 5, 10, temperature_c=39.0)
    made = section(rows, tmp_path, days=(30, 90))
    assert [row(made, FEVER, window)["events"] for window in (2, 30, 90)] == [3, 4, 4]
    assert not [one for one in made.rows if one["window"] == 2 and one["definition"] != FEVER]


def test_a_patient_s_own_threshold_changes_the_definition_and_its_name(tmp_path: Path):
    made = section(ward(), tmp_path, fever_c="38.5")
    assert row(made, "fever-from-38.5")["events"] == 0
    assert made.definition["settings"]["fever_c"] == 38.5


def test_a_rate_that_hangs_on_records_is_among_the_reviewed_and_others_enter_the_bounds(tmp_path: Path):
    rows = Rows()
    complained(rows, operated(rows, 0), "sepsis", 2, "antibiotic")
    for at in range(3):
        operated(rows, at)
    complained(rows, operated(rows, 4, reviewed=None), "sepsis", 2)
    operated(rows, 5, reviewed=None)
    made = row(section(rows, tmp_path), "recorded-sepsis")
    assert (made["n"], made["events"], made["unknown"]) == (4, 1, 1)
    assert made["known_otherwise"] == {"yes": 1, "no": 0}
    assert (made["lower"], made["upper"]) == (pytest.approx(2 / 6), pytest.approx(3 / 6))


def test_an_operation_whose_window_is_not_over_is_not_due(tmp_path: Path):
    rows = ward()
    observed(rows, operated(rows, 380, reviewed=None), 1, temperature_c=39.0)
    made = row(section(rows, tmp_path), FEVER)
    assert (made["events"], made["not_due"]) == (3, 1)


def test_drainage_is_not_counted_unless_all_operations_are_asked_for(tmp_path: Path):
    rows = ward()
    observed(rows, operated(rows, 3, intent="drainage"), 1, temperature_c=39.0)
    assert row(section(rows, tmp_path / "own"), FEVER)["events"] == 3
    assert row(section(rows, tmp_path / "all", denominator="all"), FEVER)["events"] == 4


def test_groups_add_up_and_a_bilateral_operation_stands_once(tmp_path: Path):
    rows = ward()
    patient = rows.patient(sex="male")
    both = operated(rows, 0, patient=patient)
    rows.side(rows.unit(patient, "right"), operation=both)
    observed(rows, both, 1, temperature_c=39.0)
    made = section(rows, tmp_path, Split("bilateral"))
    assert [row(made, FEVER, group={"bilateral": name})["events"] for name in ("yes", "no")] == [1, 3]
    assert row(made, FEVER, group={"bilateral": "yes"})["n"] == 1


def test_a_set_that_names_no_operation_goes_to_the_latest_before_it(tmp_path: Path):
    rows = Rows()
    patient = rows.patient(sex="male")
    operated(rows, 0, patient=patient)
    operated(rows, 20, patient=patient)
    rows.add("observation_set", patient_id=patient, observed_on=day(22), set_number=1, temperature_c=39.0)
    rows.add("observation_set", patient_id=patient, observed_on=day(20), set_number=1, temperature_c=39.0)
    table = infection_cases(asked(rows, tmp_path), {}).set_index("operation_id")
    assert table[FEVER].tolist() == ["not computable", "yes"]
    assert "not said" in table["contradictions"].loc[2]


def test_the_cases_keep_every_component(tmp_path: Path):
    rows = ward()
    complained(rows, 1, "febrile_urinary_infection", 1, "antibiotic")
    rows.add("culture", patient_id=1, operation_id=1, taken_on=day(2), specimen="urine", result="positive")
    table = infection_cases(asked(rows, tmp_path), {}).set_index("operation_id")
    one = table.loc[1]
    assert (one["temperature_c"], one["heart_rate_min"], one["days_observed"]) == (38.4, 70, 1)
    assert (one["sirs_low"], one["sirs_high"], one[SIRS]) == (1, 1, "no")
    assert one["febrile-urinary-infection-culture-5"] == "not computable"
    assert one["febrile-urinary-infection-culture-5_missing"] == "count of the culture"
    assert (one["febrile-urinary-infection-either-5"], one["recorded-fever"]) == ("yes", "yes")
    assert (one["sofa_low"], one["sofa_high"], one["sepsis-3-2016"]) == (0, 24, "not computable")
    assert (len(table), table[FEVER].tolist().count("yes")) == (10, 3)


def test_a_count_from_the_laboratory_decides(tmp_path: Path):
    rows = ward()
    culture = rows.add("culture", patient_id=1, taken_on=day(2), specimen="urine", result="positive")
    rows.add("culture_organism", culture_id=culture, organism="klebsiella", count_log10=5.0)
    made = row(section(rows, tmp_path), "febrile-urinary-infection-culture-5")
    assert made["events"] == 1


def test_sepsis_by_either_definition_is_named_in_the_cases(tmp_path: Path):
    rows = ward()
    complained(rows, 1, "sepsis", 1, "antibiotic")
    observed(rows, 1, 1, temperature_c=39.0, heart_rate_min=120, platelets_g_l=90.0, creatinine_umol_l=100.0)
    assert infection_cases(asked(rows, tmp_path), {})["sepsis_definition"].iloc[0] == "sepsis-1991, sepsis-3-2016"


def test_contradictions_are_named_case_by_case(tmp_path: Path):
    rows = ward()
    observed(rows, 2, 1, systolic_mmhg=80, mean_pressure_mmhg=95)
    notes = " ".join(section(rows, tmp_path).notes)
    assert "operation 2, 2024-01-03: systolic pressure 80 below mean pressure 95 mmHg" in notes


def test_it_renders_in_every_format_and_hides_rates_from_few(tmp_path: Path):
    rows = Rows()
    observed(rows, operated(rows), 1, temperature_c=39.0)
    report = Report(title="Infection", sections=[section(rows, tmp_path)])
    assert "n < 5" in rendered(report, "text")
    assert rendered(report, "csv").startswith("section,")
    told = json.loads(rendered(report, "json"))
    fever = next(one for one in told["rows"] if one["definition"] == FEVER)
    assert (fever["n"], fever["estimate"]) == (1, 1.0)


def test_an_empty_cohort_gives_no_number_and_no_fault(tmp_path: Path):
    rows = Rows()
    operated(rows, intent="drainage")
    made = row(section(rows, tmp_path), FEVER)
    assert (made["n"], made["estimate"], made["lower"]) == (0, None, None)


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"fever_c": "100.4"}, "--fever-c '100.4' cannot be used.*Fahrenheit"),
        ({"fever_c": "warm"}, "--fever-c 'warm' cannot be used"),
        ({"fever_c": "nan"}, "--fever-c 'nan' cannot be used"),
        ({"fever_strict": "maybe"}, "--fever-strict 'maybe' is neither yes nor no"),
        ({"culture_log10": "100000"}, "--culture-log10 '100000' cannot be used.*5 for 100,000"),
        ({"baseline_days": "0"}, "--baseline-days '0' cannot be used"),
        ({"baseline_days": "1.5"}, "--baseline-days 1.5 is no whole number of days"),
    ],
)
def test_what_cannot_be_read_is_refused_with_what_is_allowed(tmp_path: Path, settings: dict[str, str], sentence: str):
    with pytest.raises(MalformedOptionError, match=sentence):
        section(ward(), tmp_path, **settings)
