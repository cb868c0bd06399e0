"""A date known to the month or the year is an interval; what it does not settle is not guessed, and is counted."""

from __future__ import annotations

import pytest

from .case import Case, judge, mm, picked, verdict


def operated(day: int = 0) -> Case:
    case = Case()
    case.side(day)
    return case


def counted(case: Case, what: str, **options: str) -> int:
    return int(judge(case, **options).iloc[0][f"undecided_{what}"])


def test_a_study_surely_in_the_window_is_read_at_its_middle_day():
    case = operated()
    case.study((31, 58))
    row = judge(case).iloc[0]
    assert (row["rung"], row["days_after"]) == ("study_free", 44)  # 31 + 27 // 2


@pytest.mark.parametrize("interval", [(1, 28), (80, 110)])
def test_a_study_perhaps_outside_the_window_is_not_picked_and_is_counted(interval: tuple[int, int]):
    case = operated()
    case.study(interval)
    assert verdict(case) == ("unknown", "undated_study")
    assert counted(case, "studies") == 1


def test_a_study_perhaps_on_the_day_of_the_operation_may_have_been_before_it():
    case = operated()
    case.study((0, 20))
    assert verdict(case, window="0:90") == ("unknown", "undated_study")


def test_a_study_surely_outside_is_not_even_counted():
    case = operated()
    case.study((91, 120))
    assert verdict(case) == ("unknown", "no_study")
    assert counted(case, "studies") == 0


def test_a_study_with_a_settled_date_is_picked_beside_one_without():
    case = operated()
    case.study((1, 40))
    sure = case.study(85)
    assert picked(case) == sure
    assert counted(case, "studies") == 1


def test_a_study_perhaps_after_the_retreatment_is_not_picked_and_the_retreatment_fails():
    case = operated()
    case.study((31, 58))
    case.elsewhere(45)
    assert verdict(case) == ("failed", "retreated_unplanned")
    assert counted(case, "studies") == 1
    assert counted(case, "retreatments") == 0


def test_a_retreatment_surely_in_the_window_fails_though_its_day_is_unknown():
    case = operated()
    case.elsewhere((31, 58))
    assert verdict(case) == ("failed", "retreated_unplanned")


def test_a_retreatment_perhaps_after_the_window_leaves_the_side_unknown():
    case = operated()
    case.elsewhere((80, 110))
    assert verdict(case) == ("unknown", "undated_retreatment")
    assert counted(case, "retreatments") == 1


def test_a_retreatment_perhaps_before_the_operation_leaves_the_side_unknown():
    case = operated()
    case.elsewhere((-10, 20))
    case.study(30)
    assert verdict(case) == ("unknown", "undated_retreatment")


def test_a_retreatment_perhaps_before_the_study_leaves_the_side_unknown():
    case = operated()
    case.elsewhere((10, 40))
    case.study(30)
    assert verdict(case) == ("unknown", "undated_retreatment")
    assert counted(case, "retreatments") == 1
    assert counted(case, "studies") == 1


def test_a_study_recorded_as_after_an_operation_may_be_after_a_retreatment_that_began_no_earlier():
    case = operated()
    case.study(30, after_operation=True)
    case.elsewhere((30, 50))
    assert verdict(case) == ("unknown", "undated_retreatment")
    case = operated()
    case.study(30)
    case.elsewhere((30, 50))
    assert verdict(case) == ("free", "study_free")


def test_a_study_surely_before_the_retreatment_decides_all_the_same():
    case = operated()
    case.study(30, "ct", mm(5))
    case.elsewhere((80, 110))
    assert verdict(case) == ("failed", "study_failed")
    assert counted(case, "retreatments") == 1


def test_a_study_surely_after_a_retreatment_that_is_surely_an_end_is_ignored():
    case = operated()
    case.elsewhere((5, 20))
    case.study(30)
    assert verdict(case) == ("failed", "retreated_unplanned")
    assert counted(case, "studies") == 0


def test_a_treatment_elsewhere_on_the_day_of_the_operation_has_no_order():
    case = operated()
    case.elsewhere(0)
    assert verdict(case) == ("unknown", "undated_retreatment")


def test_a_retreatment_surely_after_the_window_is_ignored():
    case = operated()
    case.elsewhere((91, 120))
    assert verdict(case) == ("unknown", "no_study")
    assert counted(case, "retreatments") == 0


def test_a_loss_perhaps_after_the_window_leaves_the_side_unknown():
    case = operated()
    case.lost((80, 110))
    assert verdict(case) == ("unknown", "undated_loss")
    assert counted(case, "losses") == 1


def test_a_loss_perhaps_before_the_study_leaves_the_side_unknown():
    case = operated()
    case.lost((10, 40))
    case.study(30)
    assert verdict(case) == ("unknown", "undated_loss")
    assert counted(case, "losses") == 1


def test_a_loss_surely_in_the_window_fails():
    case = operated()
    case.lost((10, 40))
    assert verdict(case) == ("failed", "kidney_lost")


def test_a_loss_in_the_month_of_the_operation_came_after_it():
    case = operated()
    case.lost((-10, 20))
    assert verdict(case) == ("failed", "kidney_lost")


def test_a_death_perhaps_after_the_window_counts_as_in_it_and_is_counted():
    case = operated()
    case.died((80, 110))
    assert verdict(case) == ("died", "died")
    assert counted(case, "deaths") == 1


def test_a_death_surely_after_the_window_does_not():
    case = operated()
    case.died((91, 120))
    assert verdict(case) == ("unknown", "no_study")


def test_nobody_is_scanned_after_death_so_a_vague_death_holds_no_study_back():
    case = operated()
    case.study(30)
    case.died((10, 40))
    assert verdict(case) == ("free", "study_free")


def test_nor_does_an_exact_death_hold_back_a_study_of_that_month():
    case = operated()
    case.study((31, 60))
    case.died(45)
    assert verdict(case) == ("free", "study_free")


def test_a_vague_date_pairs_only_if_every_day_in_it_would():
    case = operated()
    case.study((30, 36), "kub")
    case.study(40, "ultrasound")
    assert judge(case).iloc[0]["modality"] == "us+kub"
    case = operated()
    case.study((20, 36), "kub")
    case.study(40, "ultrasound")
    assert judge(case, imaging="us+kub").iloc[0]["rung"] == "no_study"


def test_a_last_stage_elsewhere_in_a_known_month_moves_the_window_as_far_as_it_is_known():
    case = Case()
    case.side(0, course=9)
    case.elsewhere((31, 58), "planned", course=9)
    sure = case.study(100)
    case.study(130)
    assert picked(case, unit="course", sessions="planned") == sure  # window 58 + 14 to 31 + 90
    assert counted(case, "studies", unit="course", sessions="planned") == 1
