"""Bounds for outcomes nobody knows; R 4.2.2 arithmetic, Newcombe's limits (Stat Med 1998;17:873-890, method 10)."""

from __future__ import annotations

import pytest

from analysis.estimators.missing_outcomes import difference_bounds, rate_bounds


def test_one_group():
    found = rate_bounds(events=150, known=200, unknown=50)
    assert (found.worst, found.best) == pytest.approx((0.6, 0.8), rel=1e-9)
    assert (found.low, found.high) == pytest.approx((0.53820166323746, 0.844875993669828), rel=1e-9)


def test_two_groups():
    found = difference_bounds(
        events_index=160,
        known_index=190,
        unknown_index=8,
        events_comparator=120,
        known_comparator=185,
        unknown_comparator=25,
    )
    assert found.complete.estimate == pytest.approx(0.193456614509246, rel=1e-8)
    assert (found.complete.low, found.complete.high) == pytest.approx((0.105871244164161, 0.277667120183218), rel=1e-8)
    assert (found.worst, found.best) == pytest.approx((0.117604617604618, 0.277056277056277), rel=1e-8)
    assert (found.both_failed, found.both_free) == pytest.approx((0.236652236652237, 0.158008658008658), rel=1e-8)
    assert found.tipping is None


def test_the_tipping_point_is_where_the_lower_limit_crosses_nothing():
    """By hand: 40 of 50 known against 20 of 40 with 10 unknown; each unknown taken as free raises the comparator."""
    case = {"known_index": 50, "unknown_index": 0, "events_comparator": 20, "known_comparator": 40}
    found = difference_bounds(events_index=40, unknown_comparator=40, **case)
    assert found.tipping is not None
    at, before = (
        difference_bounds(
            events_index=40,
            known_index=50,
            unknown_index=0,
            events_comparator=20 + free,
            known_comparator=80,
            unknown_comparator=0,
        ).complete.low
        for free in (found.tipping, found.tipping - 1)
    )
    assert at <= 0 < before


def test_nobody_and_impossible_counts():
    assert rate_bounds(events=0, known=0, unknown=0).worst is None
    empty = difference_bounds(
        events_index=0, known_index=0, unknown_index=0, events_comparator=1, known_comparator=2, unknown_comparator=0
    )
    assert (empty.worst, empty.complete.reason) == (None, "the index group is empty")
    with pytest.raises(ValueError, match="unknown outcomes is -1"):
        rate_bounds(events=1, known=2, unknown=-1)
