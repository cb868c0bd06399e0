"""What models of counts refuse, and their laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.regression.counts import counts, dispersion, negative_binomial, poisson
from analysis.estimators.regression.fitted import NotEstimable, effects

UNHURRIED = settings(deadline=None)  # the first call loads a library
NAMES = ("intercept", "x")


def columns(x: np.ndarray | list[float]) -> np.ndarray:
    return np.column_stack([np.ones(len(x)), x])


def drawn(seed: int, scatter: float = 0.0, n: int = 300) -> tuple[np.ndarray, np.ndarray]:
    """Counts with mean exp(0.5 + 0.4 x), and variance mean + scatter mean^2."""
    draw = np.random.default_rng(seed)
    x = draw.normal(size=n)
    mean = np.exp(0.5 + 0.4 * x)
    if scatter:
        mean = mean * draw.gamma(1 / scatter, scatter, n)
    return draw.poisson(mean), columns(x)


@pytest.mark.parametrize("values", [[0.5, 1, 2], [-1, 0, 2], [np.nan, 1, 2], [np.inf, 1, 2]])
def test_what_is_no_count_is_refused(values: list[float]) -> None:
    with pytest.raises(ValueError, match="whole counts of 0 or more"):
        poisson(values, columns([1, 2, 3]), NAMES)


@pytest.mark.parametrize("exposure", [[0, 1, 1], [1, 1], [np.nan, 1, 1]])
def test_exposure_is_above_nought(exposure: list[float]) -> None:
    with pytest.raises(ValueError, match="number above 0 for every row"):
        poisson([1, 2, 0], columns([1, 2, 3]), NAMES, exposure=exposure)


@pytest.mark.parametrize(("values", "said"), [([0, 0, 0], "all 3 counts are 0"), ([], "there is no row")])
def test_no_counts_at_all(values: list[float], said: str) -> None:
    with pytest.raises(NotEstimable, match=said):
        poisson(values, columns([1, 2, 3][: len(values)]), NAMES)


def test_a_level_without_any_is_named_and_its_neighbour_runs() -> None:
    y, x = np.array([0, 0, 0, 0, 2, 1, 3, 0] * 5), columns([1, 1, 1, 1, 0, 0, 0, 0] * 5)
    with pytest.raises(NotEstimable, match="Every count is 0 at some value of x"):
        poisson(y, x, NAMES)
    y[0] = 1
    assert effects(poisson(y, x, NAMES))[1].estimate == pytest.approx(1 / 30)


def test_counts_that_scatter_less_than_poisson_have_no_negative_binomial() -> None:
    y = np.tile([1, 2, 2, 3], 25)
    with pytest.raises(NotEstimable, match="scatter no more than"):
        negative_binomial(y, columns(np.arange(100.0)), NAMES)
    found = counts(y, columns(np.arange(100.0)), NAMES)
    assert found.fit is found.poisson
    assert found.dispersion.statistic < 0 and not found.dispersion.more_than_poisson()


@given(st.integers(0, 10_000))
@UNHURRIED
def test_twice_the_exposure_halves_the_rate_and_leaves_the_ratio(seed: int) -> None:
    y, x = drawn(seed)
    one = poisson(y, x, NAMES, exposure=np.full(300, 2.0))
    other = poisson(y, x, NAMES)
    assert one.coefficients == pytest.approx(other.coefficients - [np.log(2), 0], abs=1e-6)
    assert one.standard_errors == pytest.approx(other.standard_errors, rel=1e-6)
    assert (one.scale, other.scale) == ("rate ratio", "ratio of means")


@given(st.integers(0, 10_000))
@UNHURRIED
def test_the_mean_fitted_is_the_mean_met(seed: int) -> None:
    y, x = drawn(seed, 0.5)
    fit = poisson(y, x, NAMES)
    assert np.exp(x @ fit.coefficients).sum() == pytest.approx(y.sum(), rel=1e-6)


def test_the_wider_model_is_taken_when_counts_scatter() -> None:
    y, x = drawn(4, 0.8, 2000)
    found = counts(y, x, NAMES)
    assert found.fit.kind.startswith("negative binomial")
    assert found.fit.extra["alpha"] == pytest.approx(0.8, abs=0.15)
    assert found.fit.coefficients == pytest.approx([0.5, 0.4], abs=0.12)
    assert found.poisson.standard_errors[1] > 1.1 * np.sqrt(found.poisson.extra["covariance_of_model"][1, 1])
    assert dispersion(*drawn(4)).p > 0.01


def test_clusters_widen_what_they_share() -> None:
    draw = np.random.default_rng(3)
    cluster = np.repeat(np.arange(80), 5)
    shared = draw.normal(size=80)[cluster]
    y = draw.poisson(np.exp(0.4 * shared + draw.normal(scale=0.6, size=80)[cluster]))
    x = columns(shared)
    clustered, plain = poisson(y, x, NAMES, cluster=cluster), poisson(y, x, NAMES)
    assert clustered.clusters == 80 and plain.clusters is None
    assert clustered.standard_errors[1] > 1.3 * plain.standard_errors[1]
    wide = negative_binomial(y, x, NAMES, cluster=cluster)
    assert wide.standard_errors[1] == pytest.approx(clustered.standard_errors[1], rel=0.3)
