"""The fast bootstrap of a logistic model: the same as fitting each resample by itself; what has no fit is counted."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.regression import cluster_bootstrap
from analysis.estimators.regression.cluster_bootstrap import bootstrap_effect, bootstrap_logistic
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.regression.resampled_newton import newton_in_resamples

NAMES = ("intercept", "ratio", "age", "sex")


def made(seed: int, rows: int = 600) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    draw = np.random.default_rng(seed)
    cluster = np.sort(draw.integers(0, rows * 3 // 4, rows))
    x = np.column_stack(
        [np.ones(rows), draw.choice([0.75, 0.8, 0.87], rows), draw.normal(55, 12, rows), draw.integers(0, 2, rows)]
    )
    chance = 1 / (1 + np.exp(-(-1 + 4 * (x[:, 1] - 0.8) + 0.03 * (x[:, 2] - 55) + 0.4 * x[:, 3])))
    return (draw.random(rows) < chance).astype(float), x, cluster


@pytest.mark.parametrize("with_intercept", [True, False])
def test_every_resample_is_what_statsmodels_gives_for_it(with_intercept: bool) -> None:
    y, x, cluster = made(1)
    if not with_intercept:
        x = np.column_stack([x[:, 3], 1 - x[:, 3], x[:, 1], x[:, 2]])
    found = bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=5, replicates=120)
    seeds = np.random.SeedSequence(5).spawn(3)
    _, code = np.unique(cluster, return_inverse=True)
    many, at = code.max() + 1, 0
    for own, size in zip(seeds, (50, 50, 20), strict=True):
        generator = np.random.Generator(np.random.PCG64(own))
        for _ in range(size):
            times = np.bincount(generator.integers(0, many, many), minlength=many)[code]
            rows = np.repeat(np.arange(len(y)), times)
            again = sm.Logit(y[rows], x[rows]).fit(disp=0, tol=1e-13, maxiter=100)
            assert found.draws[at] == pytest.approx(again.params, abs=1e-8, rel=1e-8)
            at += 1
    assert at == 120 == found.replicates
    assert found.lost == {}


@given(st.integers(0, 10_000))
@settings(max_examples=15)
def test_rows_that_count_several_times_are_rows_written_out(seed: int) -> None:
    y, x, _ = made(seed, 120)
    x = (x - x.mean(axis=0)) / np.where(x.std(axis=0) > 0, x.std(axis=0), 1) + np.array([1, 0, 0, 0])
    times = np.random.default_rng(seed).integers(0, 4, (120, 3)).astype(float)
    start = sm.Logit(y, x).fit(disp=0).params
    found, converged = newton_in_resamples(y, x, times, start)
    for at in np.flatnonzero(converged):
        rows = np.repeat(np.arange(120), times[:, at].astype(int))
        assert found[at] == pytest.approx(sm.Logit(y[rows], x[rows]).fit(disp=0, tol=1e-13).params, abs=1e-8)
    assert converged.all()


def test_one_core_and_two_give_the_same_and_another_seed_does_not() -> None:
    y, x, cluster = made(2)
    one = bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=3, replicates=160)
    two = bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=3, replicates=160, workers=2)
    other = bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=4, replicates=160)
    assert (one.draws == two.draws).all()
    assert not np.isclose(one.draws, other.draws).all()


def test_the_limits_are_near_the_cluster_robust_ones_and_hold_the_estimate() -> None:
    y, x, cluster = made(6, 3000)
    found = bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=1, replicates=1000)
    for at in range(1, 4):
        limits = bootstrap_effect(found, np.eye(4)[at], NAMES[at])
        assert limits.low < limits.estimate < limits.high
        assert limits.standard_error == pytest.approx(found.fit.standard_errors[at], rel=0.1)
        assert limits.estimate == pytest.approx(np.exp(found.fit.coefficients[at]))


def rare(level_events: int, level_rows: int) -> tuple[np.ndarray, np.ndarray]:
    """200 rows of which a few have a level, with so many events among them."""
    level = np.repeat([1.0, 0.0], [level_rows, 200 - level_rows])
    y = np.zeros(200)
    y[:level_events] = 1
    y[100:150] = 1
    return y, np.column_stack([np.ones(200), level])


def test_resamples_without_an_estimate_are_counted_and_too_many_are_refused() -> None:
    y, x = rare(2, 6)
    with pytest.raises(NotEstimable, match=r"of 400 resamples of clusters .*separated by rare: \d+"):
        bootstrap_logistic(y, x, ("intercept", "rare"), cluster=np.arange(200), seed=1, replicates=400)


def test_a_few_resamples_without_an_estimate_are_left_out_and_named() -> None:
    y, x = rare(6, 14)
    found = bootstrap_logistic(y, x, ("intercept", "rare"), cluster=np.arange(200), seed=1, replicates=1000)
    assert 0 < sum(found.lost.values()) <= 10
    assert set(found.lost) <= {"separated by rare", "nobody drawn differs in rare"}
    assert len(found.draws) + sum(found.lost.values()) == 1000
    assert bootstrap_effect(found, [0, 1], "rare").lost == sum(found.lost.values())


def test_a_level_that_nobody_drew_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_bootstrap, "MOST_LOST", 1.0)
    y, x = rare(1, 2)
    found = bootstrap_logistic(y, x, ("intercept", "rare"), cluster=np.arange(200), seed=1, replicates=200)
    assert found.lost["nobody drawn differs in rare"] == pytest.approx(200 * np.exp(-2), rel=0.4)
    assert np.abs(found.draws).max() < 10


def test_what_cannot_be_resampled_is_refused() -> None:
    y, x, cluster = made(3)
    with pytest.raises(NotEstimable, match="one cluster"):
        bootstrap_logistic(y, x, NAMES, cluster=np.zeros(len(y)), seed=1)
    with pytest.raises(ValueError, match="at least one resample"):
        bootstrap_logistic(y, x, NAMES, cluster=cluster, seed=1, replicates=0)
    with pytest.raises(ValueError, match="lengths differ"):
        bootstrap_logistic(y, x, NAMES, cluster=cluster[1:], seed=1)
    with pytest.raises(NotEstimable, match="same outcome"):
        bootstrap_logistic(y * 0, x, NAMES, cluster=cluster, seed=1)
