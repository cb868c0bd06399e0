"""Cost per stone-free case and its intervals against published figures and independent routes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from analysis.estimators.ratio_of_sums import fieller_limits, ratio_of_sums


@pytest.mark.parametrize(
    ("cost", "treated", "free", "per_case"),
    [
        # Charig CR, Webb DR, Payne SR, Wickham JEA, Br Med J 1986;292:879-882: pounds a case, successes of treated.
        (3500, 350, 273, 4487),
        (1861, 350, 289, 2254),
        (1789, 328, 301, 1949),
    ],
)
def test_the_1986_comparison(cost: float, treated: int, free: int, per_case: float) -> None:
    made = ratio_of_sums(np.full(treated, cost), np.arange(treated) < free, np.arange(treated), replicates=200)
    assert made.estimate == pytest.approx(per_case, abs=0.5)
    assert (made.n, made.under) == (treated, free)
    assert made.bootstrap.low is not None and made.bootstrap.high is not None
    assert made.bootstrap.low < made.estimate < made.bootstrap.high


@pytest.mark.parametrize(
    ("cost", "rate", "per_case"),
    [
        # Pooled review of 12 studies (PMC6208679): ureteroscopy 2801 US dollars, 84 %; shock waves 3627, 60 %.
        (2801, 0.84, 3335),
        (3627, 0.60, 6045),
    ],
)
def test_the_pooled_review(cost: float, rate: float, per_case: float) -> None:
    free = np.arange(100) < round(100 * rate)
    made = ratio_of_sums(np.full(100, cost), free, np.arange(100), replicates=10)
    assert made.estimate == pytest.approx(per_case, abs=0.5)


def sample(k: int, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    generator = np.random.default_rng(seed)
    free = generator.random(k) < 0.7
    return 900 + generator.gamma(2.0, 700.0, k) + 400 * ~free, free.astype(float)


@pytest.mark.parametrize(("k", "level"), [(12, 0.95), (40, 0.9), (300, 0.99)])
def test_fieller_inverts_the_t_test(k: int, level: float) -> None:
    # At either limit r the t test of scipy for a mean of cost - r free of 0 has p = 1 - level: no formula in common.
    cost, free = sample(k)
    made = fieller_limits(cost, free, level=level)
    for limit in (made.low, made.high):
        assert limit is not None
        assert stats.ttest_1samp(cost - limit * free, 0).pvalue == pytest.approx(1 - level, rel=1e-6)


def test_fieller_as_it_is_printed_with_g() -> None:
    # The form with g in Fieller, J R Stat Soc B 1954;16:175-185 (as given in general reference works).
    cost, free = sample(60)
    a, b, k = cost.mean(), free.mean(), len(cost)
    (v11, v12), (_, v22) = np.cov(cost, free) / k
    t, ratio = stats.t.ppf(0.975, k - 1), a / b
    g = t**2 * v22 / b**2
    reach = t / b * math.sqrt(v11 - 2 * ratio * v12 + ratio**2 * v22 - g * (v11 - v12**2 / v22))
    made = fieller_limits(cost, free)
    assert made.low == pytest.approx((ratio - g * v12 / v22 - reach) / (1 - g), rel=1e-9)
    assert made.high == pytest.approx((ratio - g * v12 / v22 + reach) / (1 - g), rel=1e-9)


def test_the_bootstrap_agrees_with_that_of_scipy() -> None:
    cost, free = sample(250)
    made = ratio_of_sums(cost, free, np.arange(250), replicates=20_000, seed=5)
    other = stats.bootstrap(
        (cost, free),
        lambda c, f, axis=-1: c.sum(axis=axis) / f.sum(axis=axis),
        paired=True,
        n_resamples=20_000,
        method="percentile",
        rng=np.random.default_rng(8),
    ).confidence_interval
    width = other.high - other.low
    # Quantiles of 20,000 resamples err by about 1 % of the width.
    assert made.bootstrap.low == pytest.approx(other.low, abs=0.03 * width)
    assert made.bootstrap.high == pytest.approx(other.high, abs=0.03 * width)


def test_clusters_go_together() -> None:
    # Every patient with two like sides knows no more than one side: the limits are those of half the rows.
    cost, free = sample(80)
    alone = ratio_of_sums(cost, free, np.arange(80), replicates=500)
    doubled = ratio_of_sums(np.tile(cost, 2), np.tile(free, 2), np.tile(np.arange(80), 2), replicates=500)
    assert (doubled.n, doubled.clusters) == (160, 80)
    for name in ("low", "high"):
        assert getattr(doubled.fieller, name) == pytest.approx(getattr(alone.fieller, name), rel=1e-9)
        assert getattr(doubled.bootstrap, name) == pytest.approx(getattr(alone.bootstrap, name), rel=1e-9)


def test_nobody_free_gives_no_number_and_says_so() -> None:
    made = ratio_of_sums([100.0, 200.0], [0, 0], [1, 2])
    assert (made.estimate, made.over, made.under) == (None, 300.0, 0.0)
    assert made.reason == made.bootstrap.reason == made.fieller.reason == "the sum below the line is 0"
    nobody = ratio_of_sums([], [], [])
    assert (nobody.estimate, nobody.reason) == (None, "nobody is in the group")


def test_one_patient_has_a_number_without_limits() -> None:
    made = ratio_of_sums([100.0, 200.0], [1, 0], [1, 1])
    assert (made.estimate, made.bootstrap.low, made.fieller.low) == (300.0, None, None)
    assert made.fieller.reason == "fewer than two clusters"


def test_few_successes_leave_the_upper_limit_open() -> None:
    made = ratio_of_sums(np.full(20, 1000.0), np.arange(20) < 1, np.arange(20), replicates=2000)
    assert made.estimate == 20_000
    assert (made.bootstrap.high, made.bootstrap.reason) == (None, "too many resamples have an infinite value")
    assert made.fieller.reason == "what is below the line does not differ from 0 clearly enough"


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"over": [1.0, math.nan]}, "over must be one number a row"),
        ({"cluster": [1]}, "lengths differ"),
        ({"cluster": [1.0, math.nan]}, "cluster is missing"),
        ({"replicates": 0}, "at least one resample"),
        ({"level": 1.0}, "between 0 and 1"),
    ],
)
def test_refusals(changed: dict[str, object], said: str) -> None:
    asked = {"over": [1.0, 2.0], "under": [1, 1], "cluster": [1, 2], **changed}
    with pytest.raises(ValueError, match=said):
        ratio_of_sums(**asked)  # type: ignore[arg-type]
