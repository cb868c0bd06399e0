"""The section on kidney function, over real snapshots."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from analysis.reports.complications.kidney_section import kidney_section
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.splits import Split
from analysis.reports.sections.rendered import rendered
from analysis.reports.sections.report import Report, Section
from tests.cohort.rows import Rows

from .observed_ward import asked, complained, observed, operated


def section(rows: Rows, tmp_path: Path, *by: Split, **settings: str) -> Section:
    return kidney_section(asked(rows, tmp_path), by, 0.95, "wilson", (30,), settings)


def row(made: Section, what: str) -> dict[str, Any]:
    return dict(next(one for one in made.rows if one["what"] == what))


def ward(*later: float) -> Rows:
    """One operation of a man of 50 for each creatinine on day 30; before it was 88.4 umol/L."""
    rows = Rows()
    for value in later:
        operation = operated(rows)
        observed(rows, operation, -1, timing="before", creatinine_umol_l=88.4)
        observed(rows, operation, 30, creatinine_umol_l=value)
    return rows


def test_the_mean_change_and_its_interval(tmp_path: Path):
    made = row(section(ward(88.4, 88.4, 106.08), tmp_path), "Change of eGFR")
    # 1.2 mg/dL at 50 years: 142 x (1.2/0.9)^-1.2 x 0.9938^50 = 73.7; 1.0 mg/dL: 91.7
    before, after = (142 * (scr / 0.9) ** -1.2 * 0.9938**50 for scr in (1.0, 1.2))
    change = (after - before) / 3
    spread = ((2 * change**2 + (after - before - change) ** 2) / 2) ** 0.5
    assert made["estimate"] == pytest.approx(change)
    assert made["low"] == pytest.approx(change - 4.3026527 * spread / 3**0.5)  # t(2), 97.5 %
    assert (made["low_clustered"], made["n"], made["unknown"]) == (pytest.approx(made["low"]), 3, 0)
    assert (made["median"], made["median_day_after"]) == (0, 30)


def test_sides_of_one_patient_widen_the_interval(tmp_path: Path):
    rows = ward(88.4, 90.0, 100.0)
    for _ in range(3):
        operation = operated(rows, 100, patient=3)
        observed(rows, operation, -1, timing="before", creatinine_umol_l=88.4)
        observed(rows, operation, 30, creatinine_umol_l=100.0)
        rows.tables["operation"][operation - 1]["day_number"] = operation
    made = row(section(rows, tmp_path), "Change of eGFR")
    assert made["patients"] == 3
    assert made["low_clustered"] < made["low"]


def test_what_lacks_is_counted_by_what_it_is(tmp_path: Path):
    rows = ward(88.4)
    observed(rows, operated(rows), 30, creatinine_umol_l=90.0)
    operated(rows, patient=rows.patient(sex="female", birth_year=2010))
    made = row(section(rows, tmp_path), "Change of eGFR")
    assert made["not_computable"] == {"creatinine before": 1, "under 18 years": 1}
    assert (made["n"], made["unknown"]) == (1, 2)


def test_solitary_kidneys_stand_in_a_row_of_their_own(tmp_path: Path):
    rows = ward(88.4, 100.0)
    rows.tables["renal_unit"][1]["solitary"] = "yes"
    made = section(rows, tmp_path)
    assert [row(made, name)["n"] for name in ("Change of eGFR", "Change, solitary kidney")] == [2, 1]
    assert row(made, "Change, solitary kidney")["low"] is None


def test_acute_injury_by_stage_and_dialysis(tmp_path: Path):
    rows = ward(88.4, 88.4)
    observed(rows, 1, 3, creatinine_umol_l=180.0)
    complained(rows, 2, "acute_kidney_injury", 2, "dialysis")
    made = section(rows, tmp_path)
    told = {what: row(made, f"KDIGO stage {what}")["events"] for what in ("1 or more", "2 or more", "3")}
    assert told == {"1 or more": 2, "2 or more": 2, "3": 1}
    assert row(made, "KDIGO stage 3")["n"] == 2


def test_groups_each_have_their_rows_and_it_renders(tmp_path: Path):
    made = section(ward(88.4, 100.0), tmp_path, Split("bilateral"))
    assert {one["group"]["bilateral"] for one in made.rows} == {"no"}
    text = rendered(Report(title="Kidney", sections=[made]), "text")
    assert "n < 5" in text and "from memory" in text


def test_without_a_value_there_is_no_mean_and_no_fault(tmp_path: Path):
    rows = Rows()
    operated(rows)
    made = row(section(rows, tmp_path), "Change of eGFR")
    assert (made["n"], made["estimate"], made["median"], made["mean_before"]) == (0, None, None, None)


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"egfr_window": "30"}, "--egfr-window '30' cannot be read"),
        ({"egfr_window": "90:30"}, "--egfr-window 90:30 ends before it begins"),
        ({"egfr_window": "a:30"}, "--egfr-window 'a' cannot be used"),
        ({"egfr_day": "soon"}, "--egfr-day 'soon' cannot be used"),
    ],
)
def test_what_cannot_be_read_is_refused(tmp_path: Path, settings: dict[str, str], sentence: str):
    with pytest.raises(MalformedOptionError, match=sentence):
        section(ward(88.4), tmp_path, **settings)


def test_the_last_value_may_be_asked_for(tmp_path: Path):
    rows = ward(88.4)
    observed(rows, 1, 300, creatinine_umol_l=120.0)
    made = row(section(rows, tmp_path, egfr_day="last"), "Change of eGFR")
    assert made["median_day_after"] == 300
