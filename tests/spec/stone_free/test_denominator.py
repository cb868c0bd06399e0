"""In the denominator stands every side where stone removal was intended."""

from __future__ import annotations

import pytest

from .case import FIVE, Case, judge, verdict


@pytest.mark.parametrize("intent", ["drainage", "stent_removal", "diagnostic"])
def test_another_purpose_is_out(intent: str):
    case = Case()
    case.side(intent=intent)
    case.study(30)
    assert verdict(case) == ("out", "out_intent")


def test_not_started_is_out():
    case = Case()
    case.side(conduct="not_started")
    assert verdict(case) == ("out", "out_not_started")


def test_no_stone_found_is_out():
    case = Case()
    case.side(conduct="no_stone_found")
    case.study(30)
    assert verdict(case) == ("out", "out_no_stone")


def test_failed_access_and_abandonment_are_in():
    for more in ({"access_failed": True}, {"conduct": "abandoned"}):
        case = Case()
        case.side(**more)
        case.study(30)
        assert verdict(case) == ("free", "study_free")


def test_per_protocol_takes_them_out():
    case = Case()
    case.side(access_failed=True)
    assert verdict(case, denominator="protocol") == ("out", "out_access_failed")
    case = Case()
    case.side(conduct="abandoned")
    assert verdict(case, denominator="protocol") == ("out", "out_abandoned")


def test_a_side_outside_the_cohort_has_no_row_but_still_ends_the_side_before():
    case = Case()
    first = case.side(0)
    case.side(20, stage=None, in_cohort=False)
    found = judge(case)
    assert list(found["side_id"]) == [first]
    assert list(found["rung"]) == ["retreated_unplanned"]


def test_every_retreatment_is_a_side_of_its_own():
    case = Case()
    case.side(0)
    case.side(60, stage=None)
    case.study(90)
    assert list(judge(case)["rung"]) == ["retreated_unplanned", "study_free"]


def test_who_is_in_never_depends_on_the_threshold():
    case = Case(as_of=400)
    case.side(0, conduct="not_started")
    case.side(100, unit=2)
    case.died(120)
    case.side(380, unit=3)
    found = judge(case, FIVE)
    assert (found.groupby("unit_id")["status"].nunique() == 1).all()
    assert list(found["status"].iloc[::5]) == ["out", "died", "not_due"]
