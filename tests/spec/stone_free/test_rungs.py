"""The ladder: which rule decides, the first that fits, looking no further than the end."""

from __future__ import annotations

from .case import Case, judge, mm, verdict


def operated(**more: object) -> Case:
    case = Case()
    case.side(**more)  # type: ignore[arg-type]
    return case


def test_a_study_before_the_end_decides_whatever_comes_later():
    case = operated()
    case.study(30)
    case.elsewhere(60)
    assert verdict(case) == ("free", "study_free")


def test_a_study_after_the_end_is_ignored():
    case = operated()
    case.elsewhere(20)
    case.study(30)
    assert verdict(case) == ("failed", "retreated_unplanned")


def test_the_end_on_the_last_day_of_the_window_counts_and_the_day_after_does_not():
    for day, rung in ((90, "retreated_unplanned"), (91, "no_study")):
        case = operated()
        case.elsewhere(day)
        assert verdict(case)[1] == rung


def test_the_next_planned_stage_counts_apart_from_an_unplanned_retreatment():
    case = operated(course=9)
    case.side(60, stage=1, course=9)
    assert verdict(case) == ("failed", "retreated_planned")


def test_a_new_course_or_an_auxiliary_treatment_is_an_unplanned_retreatment():
    for kind in ("index", "auxiliary", "unplanned"):
        case = operated()
        case.elsewhere(60, kind)
        assert verdict(case) == ("failed", "retreated_unplanned")


def test_retreated_can_be_unknown_by_choice():
    case = operated()
    case.elsewhere(60)
    assert verdict(case, retreated="unknown") == ("unknown", "retreated_unplanned")


def test_a_treatment_of_another_renal_unit_is_no_end():
    case = operated()
    case.elsewhere(20, unit=2)
    case.study(30)
    assert verdict(case) == ("free", "study_free")


def test_an_earlier_treatment_is_no_end():
    case = operated()
    case.elsewhere(-5)
    case.study(30)
    assert verdict(case) == ("free", "study_free")


def test_a_study_on_the_day_of_the_next_operation_was_before_it_unless_recorded_as_after():
    for recorded, rung in ((None, "study_free"), (False, "study_free"), (True, "retreated_unplanned")):
        case = operated()
        case.side(30, stage=None)
        case.study(30, after_operation=recorded)
        assert verdict(case)[1] == rung


def test_two_operations_on_one_day_are_ordered_by_their_number():
    case = Case()
    case.side(0, course=9, number=2)
    case.side(0, stage=None, number=1)
    case.study(30)
    assert list(judge(case)["rung"]) == ["study_free", "retreated_unplanned"]


def test_a_lost_kidney_without_a_study_before_is_a_failure():
    case = operated()
    case.lost(40)
    case.study(60)
    assert verdict(case) == ("failed", "kidney_lost")


def test_a_loss_dated_before_the_operation_is_no_end():
    case = operated()
    case.lost((-30, -20))
    assert verdict(case) == ("unknown", "no_study")
    case.study(30)
    assert verdict(case) == ("free", "study_free")


def test_a_study_before_the_loss_decides():
    case = operated()
    case.study(40)
    case.lost(40)
    assert verdict(case) == ("free", "study_free")


def test_abandoned_without_a_study_is_a_failure_and_with_one_the_study_decides():
    case = operated(conduct="abandoned")
    assert verdict(case) == ("failed", "abandoned")
    case.study(30)
    assert verdict(case) == ("free", "study_free")


def test_retreated_goes_before_abandoned_and_abandoned_before_died():
    case = operated(conduct="abandoned")
    case.died(50)
    assert verdict(case) == ("failed", "abandoned")
    case.elsewhere(40)
    assert verdict(case) == ("failed", "retreated_unplanned")


def test_death_without_a_study_takes_the_side_out_under_its_own_count():
    case = operated()
    case.died(50)
    assert verdict(case) == ("died", "died")
    assert verdict(case, died="failed") == ("failed", "died")


def test_death_after_the_window_is_not_looked_at():
    case = operated()
    case.died(91)
    assert verdict(case) == ("unknown", "no_study")


def test_a_study_before_death_decides():
    case = operated()
    case.study(30, "ct", mm(3))
    case.died(50)
    assert verdict(case) == ("failed", "study_failed")


def test_no_study_and_nothing_else_is_unknown():
    assert verdict(operated()) == ("unknown", "no_study")


def test_an_indeterminate_study_decides_nothing_yet_is_the_picked_one():
    case = operated()
    case.study(30, finding="indeterminate")
    case.elsewhere(60)
    row = judge(case).iloc[0]
    assert (row["status"], row["rung"], row["note"]) == ("unknown", "study_unknown", "indeterminate")


def test_planned_stages_are_no_end_under_planned_but_an_unplanned_one_between_them_is():
    case = operated(course=9)
    case.side(60, stage=1, course=9)
    case.study(90)
    assert verdict(case, unit="course", sessions="planned") == ("free", "study_free")
    case.side(30, stage=None)
    assert verdict(case, unit="course", sessions="planned") == ("failed", "retreated_unplanned")


def test_auxiliary_treatments_are_an_end_under_planned_and_none_under_auxiliary():
    case = operated(course=9)
    case.elsewhere(20, "auxiliary", course=9)
    case.study(60)
    assert verdict(case, unit="course", sessions="planned")[1] == "retreated_unplanned"
    assert verdict(case, unit="course", sessions="auxiliary")[1] == "study_free"


def test_a_new_course_ends_the_one_before_under_every_choice_of_sessions():
    for sessions in ("single", "planned", "auxiliary"):
        case = operated(course=9)
        case.side(50, course=10)
        assert verdict(case, unit="course", sessions=sessions) == ("failed", "retreated_unplanned")


def test_under_planned_abandonment_is_that_of_the_last_planned_stage():
    case = operated(course=9, conduct="abandoned")
    last = case.side(60, stage=1, course=9)
    assert verdict(case, unit="course", sessions="planned") == ("unknown", "no_study")
    case.rows["sides"][last - 101]["conduct"] = "abandoned"
    assert verdict(case, unit="course", sessions="planned") == ("failed", "abandoned")
