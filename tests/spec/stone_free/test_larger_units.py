"""Stones, operations, courses and patients."""

from __future__ import annotations

import pytest

from .case import Case, judge, larger_than, mm, verdict


def two_sides(left: str, right: str) -> Case:
    """One operation on both sides, each made to end in the status named."""
    case = Case(as_of=LONG)
    for unit, status in ((1, left), (2, right)):
        conduct = "not_started" if status == "out" else None
        case.side(0, unit=unit, operation=77, conduct=conduct)
        if status in ("free", "failed"):
            case.study(30, "ct", *([mm(9)] if status == "failed" else []), unit=unit)
    return case


LONG = 2000


@pytest.mark.parametrize(
    ("left", "right", "together"),
    [
        ("free", "free", "free"),
        ("free", "unknown", "unknown"),
        ("unknown", "failed", "failed"),
        ("free", "failed", "failed"),
        ("free", "out", "free"),
        ("out", "out", "out"),
    ],
)
def test_an_operation_fails_if_any_side_does_else_is_unknown_if_any_is_else_is_free(left, right, together):
    for unit in ("operation", "patient"):
        found = judge(two_sides(left, right), unit=unit)
        assert list(found["status"]) == [together]


def test_any_side_that_died_goes_before_a_failure():
    case = two_sides("failed", "unknown")
    case.died(60)
    assert verdict(case, unit="operation") == ("died", "died")
    assert verdict(case, unit="operation", died="failed")[0] == "failed"


def test_any_side_not_due_goes_before_everything():
    case = Case(as_of=95)
    case.side(0, unit=1, course=9)
    case.side(0, unit=2, course=10)
    case.side(50, unit=2, course=10, stage=1)
    case.died(60)
    assert verdict(case, unit="patient") == ("died", "died")
    assert verdict(case, unit="patient", sessions="planned") == ("not_due", "not_due")


def test_the_row_of_an_operation_is_that_of_the_side_that_decided():
    case = Case()
    case.side(0, unit=1, operation=77)
    decided = case.side(0, unit=2, operation=77)
    case.study(30, unit=1)
    case.study(40, "ct", mm(9), unit=2)
    row = judge(case, unit="operation").iloc[0]
    assert (row["unit_id"], row["side_id"], row["days_after"]) == (77, decided, 40)


def test_an_operation_hangs_on_inadequate_studies_only_if_every_failure_does():
    case = Case()
    case.side(0, unit=1, operation=77)
    case.side(0, unit=2, operation=77)
    case.study(30, "ultrasound", mm(9), unit=1)
    assert judge(case, unit="operation").iloc[0]["failed_inadequate"]
    case.study(30, "ct", mm(9), unit=2)
    assert not judge(case, unit="operation").iloc[0]["failed_inadequate"]


def test_a_patient_is_the_first_operation_in_the_cohort():
    case = Case()
    case.side(0)
    case.study(30)
    case.side(400)
    found = judge(case, unit="patient")
    assert list(found["status"]) == ["free"]
    case.rows["sides"][0]["in_cohort"] = False
    assert list(judge(case, unit="patient")["rung"]) == ["no_study"]


def test_an_operation_that_is_out_is_not_the_patients_first():
    case = Case()
    case.side(0, intent="drainage")
    case.side(20)
    case.study(50)
    assert verdict(case, unit="patient") == ("free", "study_free")


def test_of_two_operations_on_one_day_the_first_is_the_patients():
    case = Case()
    case.side(0, unit=1, number=2)
    first = case.side(0, unit=2, number=1)
    assert list(judge(case, unit="patient")["side_id"]) == [first]


def test_with_planned_stages_a_patient_is_the_courses_begun_that_day():
    case = Case()
    case.side(0, unit=1, course=9, number=1)
    case.side(0, unit=2, course=10, number=2)
    case.side(300, unit=1, course=11)
    case.study(30, unit=1)
    case.study(30, "ct", mm(9), unit=2)
    assert verdict(case, unit="patient", sessions="single")[0] == "free"
    assert verdict(case, unit="patient", sessions="planned")[0] == "failed"


def test_a_course_is_judged_once_at_its_own_anchor_and_never_from_its_sides():
    case = Case()
    case.side(0, course=9)
    case.side(100, stage=1, course=9)
    case.study(30, "ct", mm(9))
    case.study(130)
    assert list(judge(case)["status"]) == ["failed", "free"]
    found = judge(case, unit="course", sessions="planned")
    assert list(found["unit_id"]) == [9]
    assert list(found["status"]) == ["free"]


def test_with_single_a_course_is_its_index_side():
    case = Case()
    index = case.side(0, course=9)
    case.side(100, stage=1, course=9)
    found = judge(case, unit="course")
    assert list(found["side_id"]) == [index]


def test_a_course_whose_index_was_not_started_is_out():
    case = Case()
    case.side(0, course=9, conduct="not_started")
    case.side(100, stage=1, course=9)
    assert verdict(case, unit="course", sessions="planned") == ("out", "out_not_started")


def stones(*fragments: dict[str, object], number: int = 2) -> list[str]:
    case = Case()
    side = case.side()
    for _ in range(number):
        case.stone(side)  # stones 701, 702, ...
    case.study(30, "ct", *fragments)
    return list(judge(case, unit="stone")["status"])


def test_a_stone_is_judged_by_the_fragments_linked_to_it():
    assert stones(mm(9, source="stone", stone_id=702)) == ["free", "failed"]


def test_a_fragment_not_linked_decides_a_sole_stone():
    assert stones(mm(9), number=1) == ["failed"]


def test_a_fragment_not_linked_leaves_several_stones_unknown():
    assert stones(mm(9)) == ["unknown", "unknown"]
    assert stones(mm(9), mm(5, source="stone", stone_id=701)) == ["failed", "unknown"]


def test_a_fragment_not_linked_that_passes_harms_no_stone():
    assert stones(mm(1)) == ["free", "free"]
    assert stones(mm(1), larger_than(4, source="stone", stone_id=702)) == ["free", "failed"]


def test_a_new_stone_is_none_of_the_stones_treated():
    assert stones(mm(9, source="new"), number=1) == ["free"]


def test_only_stones_aimed_at_are_judged_and_once_a_course():
    case = Case()
    index = case.side(0, course=9)
    aimed = case.stone(index)
    later = case.stone(index, aimed=False)
    stage = case.side(100, stage=1, course=9)
    case.aim(later, stage)
    case.aim(aimed, stage)
    case.study(30)
    found = judge(case, unit="stone")
    assert list(found["unit_id"]) == [aimed, later]
    assert list(found["side_id"]) == [index, stage]  # each with the first operation that aimed at it
    assert list(found["rung"]) == ["study_free", "no_study"]


def test_a_stone_left_beside_it_means_it_is_not_the_sole_one():
    case = Case()
    side = case.side()
    case.stone(side)
    case.stone(side, aimed=False)
    case.study(30, "ct", mm(9))
    assert list(judge(case, unit="stone")["status"]) == ["unknown"]
