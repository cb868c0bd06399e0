"""The window counts from the anchor, both ends in; nothing is judged before it is over."""

from __future__ import annotations

import pytest

from .case import Case, judge, verdict


@pytest.mark.parametrize(("day", "status"), [(13, "unknown"), (14, "free"), (90, "free"), (91, "unknown")])
def test_the_default_window_is_day_14_to_day_90_inclusive(day: int, status: str):
    case = Case()
    case.side()
    case.study(day)
    assert verdict(case)[0] == status


@pytest.mark.parametrize(("as_of", "rung"), [(89, "not_due"), (90, "not_due"), (91, "study_free")])
def test_a_side_is_not_due_until_the_day_after_the_last_day(as_of: int, rung: str):
    case = Case(as_of=as_of)
    case.side()
    case.study(30)
    assert verdict(case)[1] == rung


def test_not_due_comes_before_a_failure_already_known():
    case = Case(as_of=60)
    case.side()
    case.elsewhere(20)
    assert verdict(case) == ("not_due", "not_due")


def test_a_study_that_is_not_due_is_not_told():
    case = Case(as_of=60)
    case.side()
    case.study(30)
    row = judge(case).iloc[0]
    assert row[["examination_id", "modality", "days_after"]].isna().all()
    assert row["n_readings"] == 0


def test_an_operation_after_as_of_is_out():
    case = Case(as_of=-1)
    case.side(0)
    assert verdict(case) == ("out", "out_after_as_of")


def test_an_operation_on_as_of_is_in_and_waits():
    case = Case(as_of=0)
    case.side(0)
    assert verdict(case) == ("not_due", "not_due")


def test_nothing_dated_after_as_of_is_read():
    late = {"study": 95, "treatment": 96, "loss": 97, "death": 98}
    case = Case(as_of=94)
    case.side()
    case.study(late["study"])
    case.elsewhere(late["treatment"])
    case.lost(late["loss"])
    case.died(late["death"])
    assert verdict(case, window="14:93") == ("unknown", "no_study")


def test_single_anchors_every_side_on_its_own_operation():
    case = Case()
    case.side(0, course=9)
    case.side(100, stage=1, course=9)
    case.study(130)
    assert list(judge(case)["rung"]) == ["no_study", "study_free"]


def test_planned_anchors_on_the_last_planned_stage():
    case = Case()
    case.side(0, course=9)
    case.side(40, stage=1, course=9)
    case.side(100, stage=2, course=9)
    case.study(130)
    assert verdict(case, unit="course") == ("failed", "retreated_planned")
    assert verdict(case, unit="course", sessions="planned") == ("free", "study_free")
    assert judge(case, unit="course", sessions="planned").iloc[0]["days_after"] == 30


def test_planned_is_not_due_until_the_window_after_the_last_stage_is_over():
    case = Case(as_of=190)
    case.side(0, course=9)
    case.side(100, stage=1, course=9)
    assert verdict(case, unit="course")[1] == "no_study"
    assert verdict(case, unit="course", sessions="planned")[1] == "not_due"


def test_a_planned_stage_after_as_of_is_not_read_so_the_anchor_is_the_stage_before():
    case = Case(as_of=95)
    case.side(0, course=9)
    case.side(100, stage=1, course=9)
    case.study(30)
    row = judge(case, unit="course", sessions="planned").iloc[0]
    assert (row["rung"], row["days_after"]) == ("study_free", 30)


def test_auxiliary_anchors_on_the_last_planned_or_auxiliary_treatment():
    case = Case()
    case.side(0, course=9)
    case.side(40, stage=1, course=9)
    case.elsewhere(70, "auxiliary", course=9)
    case.study(100)
    assert verdict(case, unit="course", sessions="planned")[1] == "retreated_unplanned"
    row = judge(case, unit="course", sessions="auxiliary").iloc[0]
    assert (row["rung"], row["days_after"]) == ("study_free", 30)


def test_a_study_on_the_day_of_the_own_operation_was_before_it_unless_recorded_as_after():
    for recorded, rung in ((None, "no_study"), (False, "no_study"), (True, "study_free")):
        case = Case()
        case.side()
        case.study(0, after_operation=recorded)
        assert verdict(case, window="0:90")[1] == rung


def test_a_stage_of_another_course_is_no_anchor():
    case = Case()
    case.side(0, course=9)
    case.side(200, course=10)
    case.side(240, stage=1, course=10)
    case.study(30)
    case.study(270)
    found = judge(case, unit="course", sessions="planned")
    assert list(found["unit_id"]) == [9, 10]
    assert list(found["days_after"]) == [30, 30]
