"""The frames from which outcomes are judged, as the room of outcomes wants them."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from analysis.cohort.outcome_columns import OUTCOME_COLUMNS
from analysis.outcomes.input_columns import COLUMNS
from analysis.outcomes.inputs import Tables, check
from registry.schema.errors import GravelbookError
from tests.cohort.rows import Rows, day


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Plain rows: missing as None, dates as ISO text."""
    return [
        {
            name: None if pd.isna(value) else value.date().isoformat() if isinstance(value, pd.Timestamp) else value
            for name, value in row.items()
        }
        for row in frame.to_dict("records")
    ]


def test_the_columns_are_those_that_outcomes_declare() -> None:
    ours = {name: list(columns) for name, columns in OUTCOME_COLUMNS.items()}
    ours["sides"].append("in_cohort")
    assert ours == {name: list(columns) for name, columns in COLUMNS.items()}


@pytest.mark.parametrize("filled", [False, True])
def test_outcomes_can_be_judged_from_them(rows: Rows, folder: Path, filled: bool) -> None:
    unit = rows.unit(lost_on=day(500))
    rows.tables["patient"][0]["died_on"] = day(600)
    course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, course_id=course, stage_number=0, access_gained="no")
    if filled:
        stone = rows.add("stone", course_id=course, radio_opacity="lucent")
        rows.add("stone_aim", treated_side_id=side, stone_id=stone, aim="aimed_at")
        examination = rows.add("examination", patient_id=1, examined_on=day(30), modality="ct", slice_mm=1.0)
        reading = rows.add("reading", examination_id=examination, renal_unit_id=unit, finding="fragments")
        rows.add("fragment", reading_id=reading, kind="single", diameter_low_mm=3.0, diameter_high_mm=3.0)
    cohort = rows.cohort(folder)
    check(Tables(**cohort.outcome_frames, as_of=cohort.as_of))
    assert records(cohort.outcome_frames["sides"])[0] | {"operated_on": None} == {
        "side_id": 1,
        "operation_id": 1,
        "patient_id": 1,
        "renal_unit_id": 1,
        "course_id": 1,
        "stage": 0,
        "operated_on": None,
        "day_number": 1,
        "intent": "stone_removal",
        "conduct": None,
        "access_failed": True,
        "in_cohort": True,
    }


def test_examinations(rows: Rows, folder: Path) -> None:
    patient = rows.patient()
    left, right = rows.unit(patient, "left"), rows.unit(patient, "right")
    operation = rows.operation(patient)
    rows.side(left, operation=operation)
    rows.side(right, operation=operation)
    read = rows.add(
        "examination", patient_id=patient, examined_on=day(30), modality="ct", slice_mm=1.5, after_operation="no"
    )
    rows.add("reading", examination_id=read, renal_unit_id=left, finding="none_seen", every_calyx_seen="yes")
    rows.add("reading", examination_id=read, renal_unit_id=left, finding="fragments")
    rows.add("examination", patient_id=patient, examined_on=day(40), modality="kub")
    rows.add("examination", patient_id=patient, examined_on=day(90), modality="ct", not_done="refused")
    look = rows.add("examination", patient_id=patient, examined_on=day(35), modality="second_look")
    rows.add("reading", examination_id=look, renal_unit_id=right, finding="none_seen")
    rows.add("examination", patient_id=patient, examined_on=day(36), modality="second_look")
    cohort = rows.cohort(folder)
    told = [
        (row["examination_id"], row["reading_id"], row["renal_unit_id"], row["finding"], row["every_calyx_seen"])
        for row in records(cohort.outcome_frames["examinations"])
    ]
    assert told == [
        (1, 1, left, "none_seen", True),
        (1, 2, left, "fragments", None),
        # The scan showed the right as well, and nobody said what.
        (1, None, right, None, None),
        # Nobody read the second: it may have shown either kidney that was treated.
        (2, None, left, None, None),
        (2, None, right, None, None),
        # An endoscope in the right says nothing of the left, unless nobody said in which it was.
        (4, 3, right, "none_seen", None),
        (5, None, left, None, None),
        (5, None, right, None, None),
    ]
    assert cohort.as_of == day(40)


@pytest.mark.parametrize(
    ("precision", "stored", "high"),
    [
        (None, dt.date(2024, 2, 10), "2024-02-10"),
        ("day", dt.date(2024, 2, 1), "2024-02-01"),
        ("month", dt.date(2024, 2, 1), "2024-02-29"),
        ("month", dt.date(2024, 12, 1), "2024-12-31"),
        ("year", dt.date(2024, 1, 1), "2024-12-31"),
    ],
)
def test_a_date_known_to_the_month_or_year_is_an_interval(
    rows: Rows, folder: Path, precision: str | None, stored: dt.date, high: str
) -> None:
    rows.side(rows.unit(lost_on=stored, lost_on_precision=precision))
    rows.tables["patient"][0] |= {"died_on": stored, "died_on_precision": precision}
    rows.add("examination", patient_id=1, examined_on=stored, examined_on_precision=precision, modality="ct")
    frames = rows.cohort(folder).outcome_frames
    for name in ("losses", "deaths", "examinations"):
        (row,) = records(frames[name])
        assert (row["on_low"], row["on_high"]) == (stored.isoformat(), high), name


def test_a_loss_told_twice_is_the_one_that_is_over_first(rows: Rows, folder: Path) -> None:
    unit = rows.unit(lost_on=dt.date(2024, 1, 1), lost_on_precision="year")
    rows.side(unit)
    rows.later(unit, dt.date(2024, 5, 10), "loss_of_kidney")
    rows.later(unit, dt.date(2024, 8, 10), "loss_of_kidney")
    told = records(rows.cohort(folder).outcome_frames["losses"])
    assert told == [{"renal_unit_id": 1, "on_low": "2024-05-10", "on_high": "2024-05-10"}]


def test_fragments_stones_and_aims(rows: Rows, folder: Path) -> None:
    unit = rows.unit()
    course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, course_id=course, stage_number=0)
    stones = [rows.add("stone", course_id=course, radio_opacity=said) for said in ("lucent", "faint", None)]
    rows.add("stone_aim", treated_side_id=side, stone_id=stones[1], aim="left_on_purpose", recorded_before_access="yes")
    examination = rows.add("examination", patient_id=1, examined_on=day(30), modality="ct")
    reading = rows.add("reading", examination_id=examination, renal_unit_id=unit, finding="fragments")
    rows.add("fragment", reading_id=reading, kind="single", diameter_low_mm=4.0, larger_than_low="yes")
    rows.add("fragment", reading_id=reading, kind="alike", diameter_low_mm=1.0, diameter_high_mm=2.0, stone_id=1)
    rows.add("fragment", reading_id=reading, kind="dust", origin="no_stone")
    frames = rows.cohort(folder).outcome_frames
    assert [tuple(row.values()) for row in records(frames["fragments"])] == [
        (1, 4.0, None, True, "single", "not_said", None),
        (1, 1.0, 2.0, None, "alike", "stone", 1),
        (1, None, None, None, "dust", "no_stone", None),
    ]
    assert [row["radiolucent"] for row in records(frames["stones"])] == [True, False, None]
    assert [tuple(row.values()) for row in records(frames["aims"])] == [(stones[1], side, "left_on_purpose", True)]


@pytest.mark.parametrize("last", ["operation", "examination", "contact", "later_entry"])
def test_as_of_is_the_latest_date_of_any_of_four(rows: Rows, folder: Path, last: str) -> None:
    unit = rows.unit()
    side_on = 50 if last == "operation" else 0
    rows.side(unit, side_on)
    rows.add("examination", patient_id=1, examined_on=day(50 if last == "examination" else 1), modality="ct")
    rows.add("contact", patient_id=1, contacted_on=day(50 if last == "contact" else 2))
    rows.later(unit, 50 if last == "later_entry" else 3, "stone_episode")
    assert rows.cohort(folder).as_of == day(50)


def test_an_empty_registry_has_nothing_to_work_out(rows: Rows, folder: Path) -> None:
    with pytest.raises(GravelbookError, match="holds no operation"):
        rows.cohort(folder)
    empty = rows.cohort(folder, as_of=day(0))
    assert empty.flow.stayed.sides == 0
    check(Tables(**empty.outcome_frames, as_of=empty.as_of))


@pytest.mark.parametrize(
    ("name", "value"),
    [("auxiliary_days", "ninety"), ("auxiliary_days", "-1"), ("auxiliary_days", "99999"), ("research_not_asked", "no")],
)
def test_a_setting_that_cannot_be_meant_is_refused(rows: Rows, folder: Path, name: str, value: str) -> None:
    rows.side()
    rows.add("setting", site_id=1, setting_name=name, since=day(-1), value=value)
    with pytest.raises(GravelbookError, match=f"{name} of site A is '{value}'"):
        rows.cohort(folder)
