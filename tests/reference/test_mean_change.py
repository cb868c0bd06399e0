"""The mean of paired differences against scipy, and its clustered interval against statsmodels."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.mean_change import mean_change

# Student, Biometrika 1908;6:1-25: additional hours of sleep, the ten differences of two drugs.
SLEEP = np.array([1.2, 2.4, 1.3, 1.3, 0.0, 1.0, 1.8, 0.8, 4.6, 1.4])


def test_the_sleep_data_of_1908():
    made = mean_change(values=SLEEP, cluster=np.arange(10))
    # Mean 1.58 and standard deviation 1.23 of the differences are Student's; t(9) at 97.5 % is 2.2622.
    assert made.estimate == pytest.approx(1.58)
    deviation = SLEEP.std(ddof=1)
    assert deviation == pytest.approx(1.23, abs=0.005)
    assert made.high == pytest.approx(1.58 + 2.262157 * deviation / 10**0.5, abs=1e-6)
    assert made.low == pytest.approx(1.58 - 2.262157 * deviation / 10**0.5, abs=1e-6)


def test_plain_limits_are_those_of_scipy():
    from scipy import stats

    made = mean_change(values=SLEEP, cluster=np.arange(10), level=0.9)
    low, high = stats.t.interval(0.9, 9, loc=SLEEP.mean(), scale=stats.sem(SLEEP))
    assert (made.low, made.high) == (pytest.approx(low), pytest.approx(high))


def test_clustered_limits_are_those_of_a_regression_on_a_constant():
    import statsmodels.api as sm

    cluster = np.array([0, 0, 0, 1, 1, 2, 3, 4, 4, 4])
    made = mean_change(values=SLEEP, cluster=cluster)
    fit = sm.OLS(SLEEP, np.ones(10)).fit(cov_type="cluster", cov_kwds={"groups": cluster}, use_t=True)
    # statsmodels' small-sample factor is k/(k-1) x (n-1)/(n-p), and n - p is n - 1 here.
    low, high = fit.conf_int()[0]
    assert (made.low_clustered, made.high_clustered) == (pytest.approx(low), pytest.approx(high))


def test_too_few_to_have_limits():
    nobody = mean_change(values=np.array([]), cluster=np.array([], dtype=np.int64))
    assert (nobody.estimate, nobody.low, nobody.n) == (None, None, 0)
    one = mean_change(values=np.array([2.0]), cluster=np.array([0]))
    assert (one.estimate, one.low, one.low_clustered) == (2.0, None, None)
    pair = mean_change(values=np.array([2.0, 3.0]), cluster=np.array([0, 0]))
    assert (pair.low is not None, pair.low_clustered) == (True, None)


def test_a_missing_value_is_refused():
    with pytest.raises(ValueError, match="leave missing rows out"):
        mean_change(values=np.array([1.0, np.nan]), cluster=np.array([0, 1]))
