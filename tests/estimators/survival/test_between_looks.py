"""Events between two looks: Turnbull's estimator and the Weibull model."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.interval_weibull import interval_weibull, weibull_survival
from analysis.estimators.survival.kaplan_meier import kaplan_meier, survival_at
from analysis.estimators.survival.turnbull import IntervalCurve, between_looks, turnbull

NEVER = math.inf
looks = st.lists(
    st.tuples(st.integers(0, 8), st.one_of(st.integers(1, 6), st.just(NEVER))).map(lambda at: (at[0], at[0] + at[1])),
    min_size=2, max_size=25,
)  # fmt: skip


def log_likelihood(rows: list[tuple[float, float]], curve: IntervalCurve, mass: np.ndarray) -> float:
    total = 0.0
    for left, right in rows:
        inside = (curve.left >= left) & (curve.right <= right)
        total += math.log(max(mass[inside].sum(), 1e-300))
    return total


@settings(deadline=None)  # the first example loads scipy
@given(looks)
def test_no_other_sharing_of_mass_is_more_likely(rows: list[tuple[float, float]]) -> None:
    if not any(math.isfinite(right) for _, right in rows):
        return
    curve = turnbull([left for left, _ in rows], [right for _, right in rows])
    assert curve.mass.sum() == pytest.approx(1)
    best = log_likelihood(rows, curve, curve.mass)
    rng = np.random.default_rng(len(rows))
    for _ in range(20):
        other = 0.9 * curve.mass + 0.1 * rng.dirichlet(np.ones(len(curve.mass)))
        assert log_likelihood(rows, curve, other) <= best + 1e-6


def test_looks_every_day_give_kaplan_meier() -> None:
    rng = np.random.default_rng(2)
    day, event = rng.integers(1, 30, 80), rng.random(80) < 0.6
    curve = turnbull(np.where(event, day - 1, day), np.where(event, day, NEVER))
    plain = kaplan_meier(day, event)
    for time in range(1, 29):
        (ours,), (theirs,) = between_looks(curve, [time]), survival_at(plain, [time])
        assert (ours.low, ours.high) == pytest.approx((theirs.survival, theirs.survival), abs=1e-4)


def test_a_time_between_two_looks_has_two_answers_and_one_after_the_last_none() -> None:
    curve = turnbull([0, 0, 6, 12], [6, 6, 12, NEVER])
    inside, at, beyond = between_looks(curve, [3, 6, 13])
    assert (inside.low, inside.high) == pytest.approx((0.5, 1))
    assert inside.reason is not None and "within which the curve is not known" in inside.reason
    assert (at.low, at.high, at.reason) == (0.5, 0.5, None)
    assert (beyond.low, beyond.reason) == (None, "no look after 12")
    assert "no standard error" in curve.remark


@pytest.mark.parametrize(
    ("left", "right", "said"),
    [
        ([], [], "nobody to follow"),
        ([1, 2], [NEVER, NEVER], "none of 2 had the event by the last look"),
        ([3, 2], [3, 5], "1 of 2 intervals end when or before they begin"),
        ([-1, 2], [3, 5], "begin before the origin"),
    ],
)
def test_intervals_that_are_none(left: list[float], right: list[float], said: str) -> None:
    with pytest.raises(NotEstimable, match=said):
        turnbull(left, right)


def test_columns_that_are_no_intervals() -> None:
    with pytest.raises(ValueError, match="equal length"):
        turnbull([1, 2], [3])
    with pytest.raises(ValueError, match="right a number or infinite"):
        turnbull([1, math.nan], [3, 4])


def drawn(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    arm = rng.integers(0, 2, 200).astype(float)
    came = 20 * np.exp(0.5 * arm) * rng.weibull(1.4, 200)
    last = np.floor(came / 6) * 6
    seen = came < 36
    return np.where(seen, last, 36), np.where(seen, last + 6, NEVER), np.column_stack([np.ones(200), arm])


def test_the_unit_of_time_moves_the_intercept_alone() -> None:
    left, right, x = drawn(1)
    fit = interval_weibull(left, right, x, ["intercept", "arm"])
    months = interval_weibull(left / 12, right / 12, x, ["intercept", "arm"])
    assert months.coefficients == pytest.approx(fit.coefficients - [math.log(12), 0, 0], abs=1e-5)
    (ours,) = weibull_survival(fit, [1, 1], [24])
    (theirs,) = weibull_survival(months, [1, 1], [2])
    assert (ours.estimate, ours.low, ours.high) == pytest.approx((theirs.estimate, theirs.low, theirs.high), abs=1e-5)
    assert 0 < ours.low < ours.estimate < ours.high < 1


def test_copies_do_not_shrink_the_error_in_clusters() -> None:
    left, right, x = drawn(2)
    once = interval_weibull(left, right, x, ["a", "b"], cluster=np.arange(200), correction="CR0")
    twice = interval_weibull(
        np.tile(left, 2), np.tile(right, 2), np.tile(x, (2, 1)), ["a", "b"], cluster=np.tile(np.arange(200), 2),
        correction="CR0",
    )  # fmt: skip
    assert twice.standard_errors == pytest.approx(once.standard_errors, rel=1e-4)
    plain = interval_weibull(left, right, x, ["a", "b"])
    assert once.standard_errors == pytest.approx(plain.standard_errors, rel=0.3)


def test_a_group_in_which_nobody_has_the_event_has_no_model() -> None:
    left, right, x = drawn(3)
    never = np.where(x[:, 1] == 1, NEVER, right)
    with pytest.raises(NotEstimable, match="no maximum that the search could find"):
        interval_weibull(left, never, x, ["intercept", "arm"])
    with pytest.raises(ValueError, match="must be above 0"):
        weibull_survival(interval_weibull(left, right, x, ["intercept", "arm"]), [1, 0], [0])
