"""One study a side is picked, without looking at the threshold or the finding."""

from __future__ import annotations

from itertools import pairwise

from .case import FIVE, Case, judge, mm, picked, verdict


def operated() -> Case:
    case = Case()
    case.side()
    return case


def test_the_nearest_to_day_30_is_picked():
    case = operated()
    case.study(20)
    near = case.study(33)
    case.study(80)
    assert picked(case) == near


def test_the_target_day_can_be_moved():
    case = operated()
    case.study(33)
    later = case.study(80)
    assert picked(case, target=75) == later


def test_outside_the_window_day_30_gives_way_to_the_middle_rounded_down():
    case = operated()
    case.study(59)
    middle = case.study(74)
    case.study(90)
    assert picked(case, window="60:89") == middle  # (60 + 89) // 2 = 74


def test_a_study_adequate_at_some_threshold_goes_before_a_nearer_one_that_never_is():
    case = operated()
    case.study(30, "ultrasound")
    thick = case.study(88, slice_mm=4)
    assert picked(case, "0") == thick


def test_adequate_at_some_threshold_does_not_mean_at_the_one_asked_for():
    case = operated()
    thick = case.study(30, slice_mm=4)
    case.study(31, slice_mm=1)
    assert picked(case, "0") == thick
    assert verdict(case, "0") == ("unknown", "study_unknown")


def test_the_same_study_is_picked_at_every_threshold():
    case = operated()
    case.study(40, slice_mm=1)
    case.study(25, "ct", mm(3), slice_mm=3)
    assert judge(case, FIVE)["examination_id"].nunique() == 1


def test_the_finding_does_not_matter_for_picking():
    for sizes in ([], [mm(9)]):
        case = operated()
        near = case.study(31, "ct", *sizes)
        case.study(35, "ct", mm(1))
        assert picked(case) == near


def test_of_two_equally_near_the_better_modality_wins():
    case = operated()
    look = case.study(20, "second_look", every_calyx_seen=True)
    case.study(40, "ct")
    assert picked(case) == look


def test_of_two_equally_near_scans_the_thinner_slice_wins():
    case = operated()
    thin = case.study(20, slice_mm=1)
    case.study(40, slice_mm=2)
    assert picked(case) == thin


def test_of_two_alike_and_equally_near_the_later_wins():
    case = operated()
    case.study(20)
    later = case.study(40)
    assert picked(case) == later


def test_last_takes_the_last_of_the_adequate():
    case = operated()
    case.study(30)
    last = case.study(60, slice_mm=4)
    case.study(70, "ultrasound")
    assert picked(case, pick="last") == last


def test_best_takes_modality_then_slice_then_nearness():
    case = operated()
    case.study(30, slice_mm=2)
    case.study(80, slice_mm=1)
    best = case.study(60, slice_mm=1)
    assert picked(case, pick="best") == best


def test_an_unknown_slice_is_the_thickest():
    case = operated()
    case.study(30, slice_mm=0)  # not recorded
    known = case.study(80, slice_mm=10)
    assert picked(case, pick="best", adequacy="as-published") == known


def test_an_incomplete_second_look_ranks_below_a_plain_film():
    case = operated()
    case.study(30, "second_look", every_calyx_seen=False)
    film = case.study(30, "kub")
    assert picked(case) == film


def test_the_order_of_modalities_from_ct_down():
    order = ["ct", "ultrasound", "kub", "other"]
    for better, worse in pairwise(order):
        case = operated()
        # Two weeks and more apart, so that film and ultrasound do not pair; both 8 days from the target.
        first = case.study(22, better)
        case.study(38, worse)
        assert picked(case, adequacy="as-published") == first


def test_policies_take_their_own_modality_alone():
    for policy, modality in {"ct": "ct", "us": "ultrasound", "kub": "kub", "second-look": "second_look"}.items():
        case = operated()
        ids = {name: case.study(30, name) for name in ("ct", "ultrasound", "kub", "second_look", "other")}
        assert picked(case, imaging=policy) == ids[modality]


def test_an_indeterminate_reading_is_picked_only_if_nothing_else_is_there():
    case = operated()
    case.study(30, finding="indeterminate")
    other = case.study(90, "other")
    assert picked(case) == other


def test_an_examination_without_a_reading_is_picked_only_if_nothing_else_is_there():
    case = operated()
    unread = case.study(30, read=False)
    assert picked(case) == unread
    row = judge(case).iloc[0]
    assert (row["status"], row["rung"], row["note"], row["n_readings"]) == ("unknown", "study_unknown", "not_read", 0)
    film = case.study(85, "kub")
    assert picked(case) == film


def test_film_and_ultrasound_within_14_days_are_one_study_dated_by_the_later():
    case = operated()
    film = case.study(30, "kub")
    sound = case.study(44, "ultrasound")
    row = judge(case).iloc[0]
    assert (row["examination_id"], row["second_examination_id"]) == (film, sound)
    assert (row["modality"], row["days_after"], row["n_readings"]) == ("us+kub", 44, 2)


def test_15_days_apart_they_stay_two_studies():
    case = operated()
    film = case.study(30, "kub")
    case.study(45, "ultrasound")
    assert picked(case) == film
    assert judge(case).iloc[0]["modality"] == "kub"


def test_a_pair_shows_the_larger_finding_of_either():
    case = operated()
    case.study(30, "kub", mm(1))
    case.study(31, "ultrasound", mm(5))
    assert verdict(case, "4") == ("failed", "study_failed")


def test_a_pair_is_free_only_if_both_are():
    case = operated()
    case.study(30, "kub")
    case.study(31, "ultrasound", mm(None))
    assert verdict(case, adequacy="as-published")[0] == "unknown"
    case = operated()
    case.study(30, "kub")
    case.study(31, "ultrasound")
    assert verdict(case, adequacy="as-published")[0] == "free"


def test_a_film_takes_the_nearest_ultrasound_and_the_earlier_on_a_tie():
    case = operated()
    case.study(20, "ultrasound")
    case.study(32, "ultrasound")
    earlier = case.study(28, "ultrasound")
    case.study(30, "kub")
    assert judge(case, imaging="us+kub").iloc[0]["second_examination_id"] == earlier


def test_films_choose_in_date_order_among_ultrasounds_not_yet_taken():
    case = operated()
    first_sound = case.study(30, "ultrasound")
    second_sound = case.study(50, "ultrasound")
    case.study(40, "kub")  # second in date order, but written first: must take what is left
    early = case.study(26, "kub")
    row = judge(case, imaging="us+kub").iloc[0]
    assert (row["examination_id"], row["second_examination_id"]) == (early, first_sound)
    assert judge(case, imaging="us+kub", pick="last").iloc[0]["second_examination_id"] == second_sound


def test_both_of_a_pair_must_lie_inside_the_window():
    case = operated()
    case.study(13, "ultrasound")
    case.study(15, "kub")
    assert judge(case).iloc[0]["modality"] == "kub"


def test_the_policies_us_and_kub_take_single_studies():
    case = operated()
    film = case.study(30, "kub")
    sound = case.study(32, "ultrasound", mm(6))
    row = judge(case, imaging="kub").iloc[0]
    assert (row["examination_id"], row["modality"], row["status"]) == (film, "kub", "unknown")
    assert picked(case, imaging="us") == sound


def test_the_policy_us_kub_takes_pairs_alone():
    case = operated()
    case.study(30, "ultrasound", mm(6))
    assert verdict(case, imaging="us+kub") == ("unknown", "no_study")


def test_a_film_that_was_read_is_not_spoilt_by_an_ultrasound_that_was_not():
    case = operated()
    case.study(30, "kub")
    case.study(30, "ultrasound", read=False)
    assert verdict(case, adequacy="as-published") == ("free", "study_free")
