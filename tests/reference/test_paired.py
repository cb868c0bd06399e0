"""Paired answers; values by R 4.2.2, stats::mcnemar.test and binom.test."""

from __future__ import annotations

import pytest

from analysis.estimators.paired import mcnemar


def test_thirty_pairs_that_differ():
    found = mcnemar(both=2, first_only=21, second_only=9, neither=68)
    assert (found.chi_square, found.p) == pytest.approx((4.8, 0.0284597369163105), rel=1e-7)
    assert (found.exact_p, found.mid_p) == pytest.approx((0.0427739452570677, 0.0294493734836578), rel=1e-7)
    assert (found.difference, found.standard_error) == pytest.approx((0.12, 0.0534415568635495), rel=1e-7)
    assert (found.low, found.high) == pytest.approx(
        (0.12 - 1.959963984540 * 0.0534415568635495, 0.22474352678), rel=1e-7
    )


def test_the_two_answers_may_change_places():
    one = mcnemar(both=2, first_only=21, second_only=9, neither=68)
    other = mcnemar(both=2, first_only=9, second_only=21, neither=68)
    assert (other.difference, other.exact_p, other.mid_p) == pytest.approx((-0.12, one.exact_p, one.mid_p))


def test_as_many_one_way_as_the_other_is_no_evidence():
    found = mcnemar(both=5, first_only=3, second_only=3, neither=5)
    assert (found.difference, found.exact_p) == (0.0, 1.0)
    assert found.mid_p == pytest.approx(1 - 20 / 64 / 2)  # binomial: 20 ways of 64, half of them


def test_what_cannot_be_said_says_why():
    assert mcnemar(both=0, first_only=0, second_only=0, neither=0).reason == "there is no pair"
    alike = mcnemar(both=4, first_only=0, second_only=0, neither=2)
    assert (alike.difference, alike.low, alike.exact_p, alike.reason) == (0.0, None, None, "no pair differs")
    with pytest.raises(ValueError, match="below 0"):
        mcnemar(both=-1, first_only=0, second_only=0, neither=2)
