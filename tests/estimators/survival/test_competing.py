"""Cumulative incidence, Gray's test and the Fine-Gray model: laws, clusters, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.cumulative_incidence import (
    clustered_incidence_error,
    cumulative_incidence,
    incidence_at,
)
from analysis.estimators.survival.fine_gray import fine_gray
from analysis.estimators.survival.gray import gray

from .drawn import followed, rows

NAMES = ["group", "size"]


@given(rows)
def test_causes_and_survival_add_up_to_one_and_no_incidence_falls(drawn: list[tuple[int, int]]) -> None:
    time, cause = (np.array(column) for column in zip(*drawn, strict=True))
    found = cumulative_incidence(time, cause)
    assert found.incidence.sum(axis=0) + found.survival == pytest.approx(np.ones(len(found.time)), abs=1e-12)
    assert (np.diff(found.incidence, axis=1) >= 0).all()
    known = ~np.isnan(found.low)
    low, f, high = found.low[known], found.incidence[known], found.high[known]
    assert ((low <= f + 1e-12) & (f <= high + 1e-12) & (high <= 1)).all()


@given(rows)
def test_whole_times_and_the_same_as_fractions_are_counted_alike(drawn: list[tuple[int, int]]) -> None:
    time, cause = (np.array(column) for column in zip(*drawn, strict=True))
    whole, parts = cumulative_incidence(time, cause), cumulative_incidence(time / 8, cause)
    assert parts.time * 8 == pytest.approx(whole.time)
    assert parts.incidence == pytest.approx(whole.incidence)
    assert parts.standard_error == pytest.approx(whole.standard_error, abs=1e-9)


def test_it_is_that_of_statsmodels_where_that_is_defined() -> None:
    from statsmodels.duration.survfunc import CumIncidenceRight

    data = followed(1)
    cause = np.where(data.time == data.time.max(), 0, data.cause)
    other, ours = CumIncidenceRight(data.time, cause), cumulative_incidence(data.time, cause)
    for at in (0, 1):
        assert ours.incidence[at][1:] == pytest.approx(other.cinc[at], rel=1e-12)
        assert ours.standard_error[at][1:] == pytest.approx(other.cinc_se[at], rel=1e-9, abs=1e-12)


def test_nothing_is_told_beyond_the_last_time_or_of_a_cause_that_is_none() -> None:
    curve = cumulative_incidence([1, 2, 3, 4], [1, 2, 0, 0])
    early, late = incidence_at(curve, 2, [1, 5])
    assert (early.estimate, early.low) == (0, None)
    assert early.reason == "no event of this cause yet, so that there are no limits"
    assert (late.estimate, late.reason) == (None, "nobody is at risk after 4")
    with pytest.raises(ValueError, match="Cause 3 does not occur; those that do are 1, 2"):
        incidence_at(curve, 3, [1])


def test_errors_in_clusters_of_one_are_the_plain_ones_and_copies_do_not_shrink_them() -> None:
    data = followed(2)
    curve = cumulative_incidence(data.time, data.cause)
    for at in (0.5, 3, 11, 20, 30):
        (plain,) = incidence_at(curve, 1, [at])
        alone = clustered_incidence_error(data.time, data.cause, np.arange(120), of=1, at=at)
        assert alone == pytest.approx(plain.standard_error or 0, rel=1e-9, abs=1e-9)
        twice = clustered_incidence_error(
            np.tile(data.time, 2), np.tile(data.cause, 2), np.tile(np.arange(120), 2), of=1, at=at
        )
        if at < 30:
            assert twice == pytest.approx(alone, rel=1e-9)


def test_nobody_with_another_event_and_nobody_censored_before_makes_it_a_cox_model() -> None:
    data = followed(5, ties=4000)  # without ties both handle them alike
    ours = fine_gray(data.time, data.event.astype(int), data.x, NAMES)
    other = cox(data.time, data.event, data.x, NAMES, cluster=np.arange(120), correction="CR0")
    assert len(np.unique(data.time[data.event])) == data.event.sum()
    assert ours.coefficients == pytest.approx(other.coefficients, rel=1e-7)
    assert ours.standard_errors == pytest.approx(other.standard_errors, rel=1e-7)


def test_fine_gray_in_clusters() -> None:
    data = followed(6)
    plain = fine_gray(data.time, data.cause, data.x, NAMES)
    alone = fine_gray(data.time, data.cause, data.x, NAMES, cluster=np.arange(120), correction="CR0")
    assert alone.standard_errors == pytest.approx(plain.standard_errors, rel=1e-9)
    twice = fine_gray(
        np.tile(data.time, 2), np.tile(data.cause, 2), np.tile(data.x, (2, 1)), NAMES,
        cluster=np.tile(np.arange(120), 2), correction="CR0",
    )  # fmt: skip
    assert twice.coefficients == pytest.approx(plain.coefficients, rel=1e-7)
    assert twice.standard_errors == pytest.approx(plain.standard_errors, rel=1e-7)
    assert (plain.events, plain.extra["competing"]) == ((data.cause == 1).sum(), (data.cause == 2).sum())


def test_the_unit_of_time_and_of_a_column_is_of_no_matter() -> None:
    data = followed(7)
    fit = fine_gray(data.time, data.cause, data.x, NAMES)
    other = fine_gray(data.time * 12, data.cause, data.x * [1, 1000] + [5, 1e4], NAMES)
    assert other.coefficients * [1, 1000] == pytest.approx(fit.coefficients, rel=1e-6)
    assert other.log_likelihood == pytest.approx(fit.log_likelihood)


def test_what_the_models_refuse() -> None:
    data = followed(8)
    with pytest.raises(NotEstimable, match="none of 120 had the event"):
        fine_gray(data.time, np.zeros(120, dtype=int), data.x, NAMES)
    with pytest.raises(NotEstimable, match="more parameters than the data carry: 2 parameters"):
        fine_gray(data.time[:20], data.cause[:20], data.x[:20], NAMES)
    with pytest.raises(NotEstimable, match="group does not vary"):
        fine_gray(data.time, data.cause, data.x * [0, 1], NAMES)
    with pytest.raises(NotEstimable, match="say the same"):
        fine_gray(data.time, data.cause, data.x[:, [0, 0]], NAMES)
    never = np.where((data.x[:, 0] == 1) & (data.cause == 1), 0, data.cause)
    with pytest.raises(NotEstimable, match="no maximum, or was not found, in group"):
        fine_gray(data.time, never, data.x, NAMES)
    with pytest.raises(NotEstimable, match="there is one group, a"):
        gray(data.time, data.cause, ["a"] * 120)
    with pytest.raises(NotEstimable, match="nobody had the event of cause 3"):
        gray(data.time, data.cause, data.pair % 2, of=3)
    with pytest.raises(NotEstimable, match="nobody of b is followed until the event first happens"):
        gray([5, 6, 7, 8, 1, 2], [1, 1, 2, 1, 0, 2], list("aaaabb"))


def test_grays_test_is_the_same_for_the_groups_in_any_order() -> None:
    data = followed(9)
    one = gray(data.time, data.cause, data.x[:, 0])
    other = gray(data.time[::-1], data.cause[::-1], 1 - data.x[::-1, 0])
    assert one.statistic == pytest.approx(other.statistic)
    assert (sum(one.n), sum(one.events)) == (120, (data.cause == 1).sum())
