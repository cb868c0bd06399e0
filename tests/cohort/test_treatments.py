"""What each treatment was to its course: index, planned, unplanned or auxiliary.

A course begins on day 0 on one renal unit; days are counted from there.
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from tests.cohort.rows import Rows, day

Told = list[tuple[int, str, int | None]]


class Staged(Rows):
    """Rows with a renal unit (key 1) whose course (key 1) begins on day 0."""

    def __init__(self, **index: Any) -> None:
        super().__init__()
        self.only = self.unit()
        self.course = self.add("course", renal_unit_id=self.only)
        self.side(self.only, 0, course_id=self.course, stage_number=0, **index)

    def plan(self, stage: int = 1, decided: int = 0) -> int:
        return self.add("planned_stage", course_id=self.course, stage_number=stage, decided_on=day(decided))

    def stage(self, on: int, stage: int | None = 1, **values: Any) -> int:
        return self.side(self.only, on, course_id=self.course, stage_number=stage, **values)

    def told(self, folder: Path) -> Told:
        """(day, kind, course) of each treatment, in the order of its day."""
        frame = self.cohort(folder).outcome_frames["treatments"].sort_values(["on_low", "treatment_id"])
        days = (frame["on_low"] - pd.Timestamp(day(0))).dt.days
        courses = [None if pd.isna(course) else int(course) for course in frame["course_id"]]
        return list(zip(days.tolist(), frame["kind"].tolist(), courses, strict=True))


@pytest.fixture
def staged() -> Staged:
    return Staged()


def test_a_stage_decided_on_the_day_of_the_operation_before_is_planned(staged: Staged, folder: Path) -> None:
    staged.plan(decided=0)
    staged.stage(40)
    assert staged.told(folder) == [(0, "index", 1), (40, "planned", 1)]


def test_a_stage_decided_later_is_not_planned(staged: Staged, folder: Path) -> None:
    staged.plan(decided=1)
    staged.stage(40)
    assert staged.told(folder) == [(0, "index", 1), (40, "auxiliary", 1)]
    stages = staged.cohort(folder).outcome_frames["sides"]["stage"]
    assert list(stages.fillna(-1)) == [0, -1]


def test_a_stage_that_nobody_wrote_down_is_not_planned(staged: Staged, folder: Path) -> None:
    staged.stage(40)
    assert staged.told(folder) == [(0, "index", 1), (40, "auxiliary", 1)]


def test_each_stage_is_measured_against_the_operation_before_it(staged: Staged, folder: Path) -> None:
    staged.plan(1, decided=0)
    staged.plan(2, decided=40)
    staged.plan(3, decided=41)
    staged.stage(40, 1)
    staged.stage(80, 2)
    staged.stage(120, 3)
    # The third was decided on day 41, before the operation of day 80.
    assert [kind for _, kind, _ in staged.told(folder)] == ["index", "planned", "planned", "planned"]


def test_a_second_operation_of_the_day_follows_the_first(staged: Staged, folder: Path) -> None:
    staged.plan(decided=0)
    staged.stage(0, number=2)
    assert staged.told(folder) == [(0, "index", 1), (0, "planned", 1)]


def test_of_two_operations_of_a_day_only_the_second_follows(staged: Staged, folder: Path) -> None:
    staged.side(staged.only, 0, number=3)
    assert staged.told(folder) == [(0, "index", 1), (0, "auxiliary", 1)]


def test_what_came_before_the_index_on_its_day_is_not_auxiliary(folder: Path) -> None:
    staged = Staged(number=2)
    staged.side(staged.only, 0, number=1)
    assert staged.told(folder) == [(0, "index", 1), (0, "unplanned", None)]


@pytest.mark.parametrize(("on", "kind"), [(90, "auxiliary"), (91, "unplanned")])
def test_ninety_days_after_the_planned_end(staged: Staged, folder: Path, on: int, kind: str) -> None:
    staged.side(staged.only, on)
    assert staged.told(folder)[1] == (on, kind, 1 if kind == "auxiliary" else None)


@pytest.mark.parametrize(("on", "kind"), [(130, "auxiliary"), (131, "unplanned")])
def test_the_planned_end_is_the_last_planned_stage(staged: Staged, folder: Path, on: int, kind: str) -> None:
    staged.plan()
    staged.stage(40)
    staged.side(staged.only, on)
    assert staged.told(folder)[2] == (on, kind, 1 if kind == "auxiliary" else None)


def test_unplanned_between_index_and_planned_stage_belongs_to_the_course(staged: Staged, folder: Path) -> None:
    staged.plan()
    staged.side(staged.only, 10)
    staged.stage(40)
    assert staged.told(folder) == [(0, "index", 1), (10, "auxiliary", 1), (40, "planned", 1)]


def test_an_auxiliary_treatment_does_not_move_the_planned_end(staged: Staged, folder: Path) -> None:
    staged.side(staged.only, 80)
    staged.side(staged.only, 100)
    assert staged.told(folder)[1:] == [(80, "auxiliary", 1), (100, "unplanned", None)]


def test_the_unit_may_set_another_number_of_days(staged: Staged, folder: Path) -> None:
    for since, value in ((-400, "200"), (-30, "30"), (5000, "7")):
        staged.add("setting", site_id=1, setting_name="auxiliary_days", since=day(since), value=value)
    staged.side(staged.only, 30)
    staged.side(staged.only, 31)
    assert [kind for _, kind, _ in staged.told(folder)] == ["index", "auxiliary", "unplanned"]
    assert staged.cohort(folder).settings["auxiliary_days"] == [30]


def test_stage_0_begins_a_new_course_however_soon(staged: Staged, folder: Path) -> None:
    second = staged.add("course", renal_unit_id=staged.only)
    staged.side(staged.only, 20, course_id=second, stage_number=0)
    staged.side(staged.only, 50)
    assert staged.told(folder) == [(0, "index", 1), (20, "index", 2), (50, "auxiliary", 2)]


def test_a_second_index_of_one_course_is_not_believed(staged: Staged, folder: Path) -> None:
    staged.stage(20, 0)
    assert staged.told(folder) == [(0, "index", 1), (20, "auxiliary", 1)]
    assert list(staged.cohort(folder).outcome_frames["sides"]["stage"].fillna(-1)) == [0, -1]


@pytest.mark.parametrize(
    ("values", "treated"),
    [
        ({"conduct": "abandoned"}, True),
        ({"conduct": "not_started"}, False),
        ({"conduct": "no_stone_found"}, False),
        ({"intent": "drainage"}, False),
    ],
)
def test_what_is_a_treatment(staged: Staged, folder: Path, values: dict[str, Any], treated: bool) -> None:
    staged.side(staged.only, 20, **values)
    assert (20 in [on for on, _, _ in staged.told(folder)]) == treated


def test_the_other_kidney_has_nothing_to_do_with_it(staged: Staged, folder: Path) -> None:
    staged.side(staged.unit(1, "right"), 20)
    assert staged.told(folder)[1] == (20, "unplanned", None)


def test_treatment_elsewhere(staged: Staged, folder: Path) -> None:
    planned = staged.plan(decided=0)
    late = staged.plan(2, decided=45)
    staged.later(staged.only, 40, planned_stage_id=planned)
    staged.later(staged.only, 60, planned_stage_id=late)
    staged.later(staged.only, 500)
    staged.later(staged.only, 41, "stone_episode")
    assert staged.told(folder) == [(0, "index", 1), (40, "planned", 1), (60, "auxiliary", 1), (500, "unplanned", None)]


def test_a_retreatment_of_an_unnamed_kidney_is_left_out(staged: Staged, folder: Path) -> None:
    staged.add("later_entry", patient_id=1, occurred_on=day(20), what="retreatment")
    assert staged.told(folder) == [(0, "index", 1)]


def test_a_day_known_to_the_month_is_an_interval(staged: Staged, folder: Path) -> None:
    # Day 0 is 1 January 2024: 90 days later is 31 March; that of the second may be later, of the third is.
    for month in (3, 4):
        staged.later(staged.only, dt.date(2024, month, 1), occurred_on_precision="month")
    staged.later(staged.only, dt.date(2025, 1, 1), occurred_on_precision="year")
    frame = staged.cohort(folder).outcome_frames["treatments"]
    assert list(frame["kind"]) == ["index", "auxiliary", "unplanned", "unplanned"]
    assert list(frame["on_high"].dt.strftime("%Y-%m-%d")) == ["2024-01-01", "2024-03-31", "2024-04-30", "2025-12-31"]


def test_a_month_that_only_begins_in_time_is_not_auxiliary(staged: Staged, folder: Path) -> None:
    staged.add("setting", site_id=1, setting_name="auxiliary_days", since=day(-400), value="75")
    staged.later(staged.only, dt.date(2024, 3, 1), occurred_on_precision="month")
    assert staged.told(folder) == [(0, "index", 1), (60, "unplanned", None)]


def test_what_may_have_come_before_the_course_is_not_auxiliary(folder: Path) -> None:
    rows = Staged()
    rows.later(rows.only, dt.date(2024, 1, 1), occurred_on_precision="month")
    rows.later(rows.only, dt.date(2023, 1, 1), occurred_on_precision="year")
    kinds = rows.cohort(folder).outcome_frames["treatments"]["kind"]
    assert list(kinds) == ["index", "unplanned", "unplanned"]
