"""Kaplan-Meier curves: medians that touch, the end of follow-up, laws, clusters; log-rank; restricted mean."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cumulative_incidence import cumulative_incidence
from analysis.estimators.survival.kaplan_meier import (
    BANDS,
    at_risk_at,
    by_group,
    kaplan_meier,
    survival_at,
    time_to,
)
from analysis.estimators.survival.log_rank import log_rank
from analysis.estimators.survival.restricted_mean import restricted_mean, restricted_mean_contrasts

from .drawn import followed, rows


def test_a_curve_that_touches_half_has_its_median_halfway_to_the_next_step() -> None:
    curve = kaplan_meier([1, 2, 3, 4], [True] * 4)
    assert time_to(curve).estimate == 2.5  # 0.5 from 2 until 3
    assert time_to(curve, 0.25).estimate == 1.5
    level = kaplan_meier([1, 2, 6, 8], [True, True, False, False])
    assert time_to(level).estimate == 5  # 0.5 from 2 until the end, 8
    assert time_to(kaplan_meier([1, 2, 3], [True] * 3)).estimate == 2


def test_nothing_is_told_beyond_the_last_time_with_somebody_at_risk() -> None:
    curve = kaplan_meier([1, 2, 3, 4], [True, False, True, False])
    last, beyond = survival_at(curve, [4, 4.1])
    assert (last.survival, last.at_risk) == (pytest.approx(0.375), 1)
    assert (beyond.survival, beyond.low, beyond.at_risk) == (None, None, 0)
    assert beyond.reason == "nobody is at risk after 4"


def test_there_are_no_limits_before_the_first_event_and_after_the_last_of_all() -> None:
    curve = kaplan_meier([1, 2, 3], [False, True, True])
    before, after = survival_at(curve, [1, 3])
    assert (before.survival, before.low, before.reason) == (1, None, "no event yet, so that there are no limits")
    assert (after.survival, after.low, after.high) == (0, None, None)
    assert after.reason == "nobody is left without the event"


def test_nobody_with_the_event_has_a_level_curve_and_no_median() -> None:
    curve = kaplan_meier([1, 2], [False, False])
    assert curve.survival.tolist() == [1, 1, 1]
    assert time_to(curve).reason == "fewer than 50 % had the event by 2"


@given(rows)
def test_limits_hold_the_curve_which_never_rises(drawn: list[tuple[int, int]]) -> None:
    time, event = [one for one, _ in drawn], [cause == 1 for _, cause in drawn]
    for band in BANDS:
        curve = kaplan_meier(time, event, band=band)
        assert (np.diff(curve.survival) <= 0).all()
        known = ~np.isnan(curve.low)
        low, s, high = curve.low[known], curve.survival[known], curve.high[known]
        assert ((low >= 0) & (low <= s) & (s <= high) & (high <= 1)).all()


@given(rows)
def test_without_censoring_it_is_the_share_still_without(drawn: list[tuple[int, int]]) -> None:
    time = np.array([one for one, _ in drawn])
    curve = kaplan_meier(time, np.ones(len(time), dtype=bool))
    for at in np.unique(time):
        (found,) = survival_at(curve, [float(at)])
        assert found.survival == pytest.approx((time > at).mean(), abs=1e-12)
        assert at_risk_at(curve, float(at)) == (time >= at).sum()


def test_the_error_in_clusters_of_one_is_greenwoods_and_copies_do_not_shrink_it() -> None:
    data = followed(3)
    plain = kaplan_meier(data.time, data.event)
    alone = kaplan_meier(data.time, data.event, cluster=np.arange(120))
    assert alone.standard_error == pytest.approx(plain.standard_error, rel=1e-9, nan_ok=True)
    twice = kaplan_meier(np.tile(data.time, 2), np.tile(data.event, 2), cluster=np.tile(np.arange(120), 2))
    assert twice.survival == pytest.approx(plain.survival)
    inner = plain.survival > 0.05
    assert twice.standard_error[inner] == pytest.approx(plain.standard_error[inner], rel=1e-9)
    assert twice.clusters == 120
    with pytest.raises(NotEstimable, match="one cluster"):
        kaplan_meier(data.time, data.event, cluster=np.zeros(120))


def test_the_order_of_rows_and_groups_is_of_no_matter() -> None:
    data = followed(4)
    back = kaplan_meier(data.time[::-1], data.event[::-1])
    assert back.survival == pytest.approx(kaplan_meier(data.time, data.event).survival)
    both = by_group(data.time, data.event, np.where(data.x[:, 0] == 1, "yes", "no"))
    assert list(both) == ["no", "yes"]
    assert sum(curve.n for curve in both.values()) == 120


@pytest.mark.parametrize("rho", [0, 1])
@given(rows=st.lists(st.tuples(st.integers(1, 9), st.booleans(), st.integers(0, 2)), min_size=6, max_size=40))
def test_observed_and_expected_add_up_to_the_same(rho: float, rows: list[tuple[int, bool, int]]) -> None:
    time, event, group = (np.array(column) for column in zip(*rows, strict=True))
    try:
        found = log_rank(time, event, group, rho=rho)
    except NotEstimable:
        return
    assert sum(found.observed) == pytest.approx(sum(found.expected))
    assert found.df == len(found.groups) - 1


def test_groups_that_cannot_be_compared() -> None:
    with pytest.raises(NotEstimable, match="there is one group, a"):
        log_rank([1, 2], [True, True], ["a", "a"])
    with pytest.raises(NotEstimable, match="nobody had the event"):
        log_rank([1, 2], [False, False], ["a", "b"])
    with pytest.raises(NotEstimable, match="chance has no play"):
        log_rank([1, 2, 2], [False, True, True], ["a", "a", "b"], rho=1)
    with pytest.raises(NotEstimable, match="nobody of b is at risk when an event happens"):
        log_rank([3, 4, 1], [True, True, False], ["a", "c", "b"])


def test_a_restricted_mean_ends_where_the_curve_does() -> None:
    curve = kaplan_meier([1, 2, 3, 4], [True, False, True, False])
    assert restricted_mean(curve, 4).estimate == pytest.approx(1 + 0.75 * 2 + 0.375)
    with pytest.raises(NotEstimable, match="nobody is at risk after 4"):
        restricted_mean(curve, 4.5)
    gone = kaplan_meier([1, 2, 3], [True] * 3)
    assert restricted_mean(gone, 10).estimate == pytest.approx(2)  # all had it: the mean of 1, 2, 3
    with pytest.raises(ValueError, match="horizon is 0"):
        restricted_mean(curve, 0)


def test_without_censoring_it_is_the_mean_with_its_ordinary_error() -> None:
    time = np.random.default_rng(1).exponential(5, 400)
    found = restricted_mean(kaplan_meier(time, np.ones(400, dtype=bool)), 6)
    cut = np.minimum(time, 6)
    assert found.estimate == pytest.approx(cut.mean())
    assert found.standard_error == pytest.approx(cut.std() / 20)
    same = restricted_mean_contrasts(found, found)
    assert (same["difference"].estimate, same["ratio"].estimate, same["difference"].p) == (0, 1, 1)


@given(rows)
def test_one_cause_alone_is_one_minus_kaplan_meier(drawn: list[tuple[int, int]]) -> None:
    time, event = np.array([one for one, _ in drawn]), np.array([cause == 1 for _, cause in drawn])
    if event.any():
        found = cumulative_incidence(time, event.astype(int))
        curve = kaplan_meier(time, event)
        assert found.incidence[0] == pytest.approx(1 - curve.survival, abs=1e-12)
        known = ~np.isnan(curve.standard_error)
        assert found.standard_error[0][known] == pytest.approx(curve.standard_error[known], abs=1e-9)
