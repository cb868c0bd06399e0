"""What operations and stays cost, and to which course they belong."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.cohort.rows import day
from tests.spec.cost.accounts import accounts, cost_of, costed, opened, operated, stay


def test_an_hour_in_theatre_two_nights_and_a_sheath(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0, nights=2)
    made = cost_of(rows, tmp_path)
    assert (made["theatre"], made["beds"], made["consumables"], made["cost"]) == (600, 800, 100, 1500)
    assert bool(made["due"])


def test_same_day_is_no_night(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0)
    assert cost_of(rows, tmp_path)["beds"] == 0


def test_minutes_in_the_room_count_where_recorded(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0, room_min=80, operating_min=50)
    operated(rows, rows.unit(), 0, room_min=None, operating_min=50)
    operated(rows, rows.unit(), 0, room_min=None, operating_min=None)
    assert [cost_of(rows, tmp_path / str(one), one)["theatre"] for one in (1, 2)] == [800, 500]
    assert math.isnan(cost_of(rows, tmp_path / "3", 3)["cost"])
    assert cost_of(rows, tmp_path / "4", 1, minutes="operating")["theatre"] == 500


def test_an_operation_of_both_sides_is_charged_half_to_each_with_its_stay(tmp_path: Path) -> None:
    rows = accounts()
    patient = rows.patient()
    admission = stay(rows, patient, 0, 2)
    operation = rows.operation(patient, 0, room_min=60, admission_id=admission)
    for name in ("left", "right"):
        unit = rows.unit(patient, name)
        opened(
            rows, rows.side(unit, operation=operation, course_id=rows.add("course", renal_unit_id=unit), stage_number=0)
        )
    courses = costed(rows, tmp_path).courses
    assert courses["theatre"].tolist() == [300, 300]
    assert courses["beds"].tolist() == [400, 400]
    assert courses["consumables"].tolist() == [100, 100]  # equipment is recorded on the side where it was used


def test_the_other_half_of_an_operation_is_nobodys_when_that_side_has_no_course(tmp_path: Path) -> None:
    rows = accounts()
    side = operated(rows, rows.unit(), 0, nights=1)
    patient = rows.tables["renal_unit"][0]["patient_id"]
    rows.side(rows.unit(patient, "right"), operation=rows.operation_of(side), intent="drainage", conduct="not_started")
    made = cost_of(rows, tmp_path)
    assert (made["theatre"], made["beds"]) == (300, 200)


def test_stages_and_retreatments_within_the_horizon_are_in(tmp_path: Path) -> None:
    rows = accounts()
    unit = rows.unit()
    operated(rows, unit, 0)
    operated(rows, unit, 40, stage=1, course=1)
    operated(rows, unit, 90, stage=None)
    operated(rows, unit, 91, stage=None)
    assert cost_of(rows, tmp_path)["theatre"] == 3 * 600
    assert cost_of(rows, tmp_path / "longer", horizon=91)["theatre"] == 4 * 600


def test_what_happens_between_two_courses_belongs_to_the_one_it_follows(tmp_path: Path) -> None:
    rows = accounts()
    unit = rows.unit()
    operated(rows, unit, 0)
    operated(rows, unit, 20, stage=None)
    operated(rows, unit, 50)
    operated(rows, unit, 60, stage=None)
    courses = costed(rows, tmp_path).courses
    assert courses["theatre"].tolist() == [1200, 1200]


def test_an_operation_of_the_other_kidney_belongs_to_its_own_course(tmp_path: Path) -> None:
    rows = accounts()
    left = rows.unit()
    operated(rows, left, 0)
    operated(rows, rows.unit(rows.tables["renal_unit"][0]["patient_id"], "right"), 10)
    assert costed(rows, tmp_path).courses["theatre"].tolist() == [600, 600]


def test_a_readmission_belongs_to_the_renal_unit_of_its_complication(tmp_path: Path) -> None:
    rows = accounts()
    left = rows.unit()
    patient = rows.tables["renal_unit"][0]["patient_id"]
    side = operated(rows, left, 0)
    operated(rows, rows.unit(patient, "right"), 10)
    back = stay(rows, patient, 15, 18, intensive_care_days=1)
    rows.add(
        "complication",
        operation_id=rows.operation_of(side),
        complication_number=1,
        what="sepsis",
        renal_unit_id=left,
        readmission_id=back,
    )
    courses = costed(rows, tmp_path).courses
    # Three nights, one of them in intensive care.
    assert courses["beds"].tolist() == [800, 0]
    assert courses["intensive_care"].tolist() == [1500, 0]


def test_a_readmission_without_a_complication_follows_the_latest_course(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0)
    operated(rows, rows.unit(1, "right"), 10)
    stay(rows, 1, 10, 11, admission_number=2)
    assert costed(rows, tmp_path).courses["beds"].tolist() == [0, 400]


def test_nights_after_the_horizon_are_not_counted(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0)
    stay(rows, 1, 88, 100)
    assert cost_of(rows, tmp_path)["beds"] == 3 * 400  # the nights of days 88, 89 and 90


@pytest.mark.parametrize(("nights", "beds"), [(None, math.nan), (3, 1200.0)])
def test_a_stay_that_the_operation_does_not_name_is_found_by_its_days(
    tmp_path: Path, nights: int | None, beds: float
) -> None:
    rows = accounts()
    unit = rows.unit()
    side = rows.side(
        unit,
        operation=rows.operation(1, 1, room_min=60),
        course_id=rows.add("course", renal_unit_id=unit),
        stage_number=0,
    )
    opened(rows, side)
    if nights is not None:
        stay(rows, 1, 0, nights)
    assert cost_of(rows, tmp_path)["beds"] == pytest.approx(beds, nan_ok=True)


def test_no_discharge_is_no_known_stay(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0)
    rows.tables["admission"][0]["discharged_on"] = None
    made = costed(rows, tmp_path)
    assert math.isnan(made.courses["cost"].iloc[0])
    lost = made.charges[made.charges["state"] == "missing"]
    assert lost[["component", "reason"]].to_numpy().tolist() == [["beds", "not recorded"]]


def test_two_operations_in_one_stay_pay_for_it_once(tmp_path: Path) -> None:
    rows = accounts()
    unit = rows.unit()
    operated(rows, unit, 0, nights=4)
    operation = rows.operation(1, 2, room_min=30, admission_id=1)
    opened(rows, rows.side(unit, operation=operation, course_id=1, stage_number=1))
    made = cost_of(rows, tmp_path)
    assert (made["beds"], made["theatre"]) == (1600, 900)


def test_a_course_is_not_due_before_its_horizon_is_over(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 511)
    operated(rows, rows.unit(), 510)
    assert costed(rows, tmp_path).courses["due"].tolist() == [False, True]
    assert day(600) == day(510 + 90)


def test_intensive_care_left_blank_counts_as_none_and_is_counted(tmp_path: Path) -> None:
    rows = accounts()
    operated(rows, rows.unit(), 0, nights=1)
    rows.tables["admission"][0]["intensive_care_days"] = None
    made = costed(rows, tmp_path)
    assert (made.courses["cost"].iloc[0], made.intensive_blank) == (1100, 1)
