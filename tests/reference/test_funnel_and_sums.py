"""Funnel limits, observed over expected, and risk-adjusted sums.

Hospitals: Spiegelhalter DJ, Abrams KR, Myles JP, Bayesian Approaches to Clinical Trials, Wiley 2004 (deaths after
cardiac surgery in children). Values: R 4.2.2 qbinom, pbinom, qchisq, ppois and hand arithmetic; exact Poisson limits
equal epitools 0.5.10.1; weights of the sum by Steiner et al, Biostatistics 2000;1:441-452.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.funnel import funnel_limits, observed_expected, scatter
from analysis.estimators.risk_adjusted_sums import cumulative_sum, expected_less_observed, run_length, weights

DEATHS = [0, 18, 8, 46, 8, 13, 9, 31, 14, 8, 29, 24]
PATIENTS = [47, 148, 119, 810, 211, 196, 148, 215, 207, 97, 256, 360]
TARGET = sum(DEATHS) / sum(PATIENTS)


def test_exact_limits_of_hospitals() -> None:
    low, high = (funnel_limits(target=TARGET, n=PATIENTS[:4], probability=p) for p in (0.025, 0.975))
    assert low == pytest.approx([0, 0.0308995911695026, 0.0262039366977072, 0.055778613205791], rel=1e-8)
    assert high == pytest.approx(
        [0.146428506162577, 0.115219566554434, 0.120239281886564, 0.0918273963981412], rel=1e-8
    )
    wide = funnel_limits(target=TARGET, n=PATIENTS[:2], probability=0.999)
    assert wide == pytest.approx([0.205744902699806, 0.144934758065644], rel=1e-8)
    normal = funnel_limits(target=TARGET, n=[47], probability=0.025, exact=False)
    assert normal == pytest.approx([-0.000882547819919477], rel=1e-8)


def test_a_grid_about_78_percent() -> None:
    n = [10, 20, 50, 100, 200, 500]
    lower = [0.438954459939681, 0.559142247622509, 0.649134127789977, 0.69119281130383, 0.718722049349916]
    assert funnel_limits(target=0.78, n=n, probability=0.025)[:5] == pytest.approx(lower, rel=1e-8)
    upper = [0.998800351616639, 0.9928042187815, 0.933819125583014, 0.89460476793611, 0.863818057322343]
    assert funnel_limits(target=0.78, n=n, probability=0.999)[:5] == pytest.approx(upper, rel=1e-8)


def test_the_scatter_of_hospitals() -> None:
    made = scatter(events=DEATHS, n=PATIENTS, target=TARGET)
    expected = [-1.93683841723816, 2.21821899777457, -0.278904591833165, -1.86296170105504]
    assert made.z[:4] == pytest.approx(expected, rel=1e-8)
    assert made.overdispersion > 1 and made.between > 0


def test_observed_over_expected() -> None:
    made = observed_expected(observed=24, expected=17.3)
    assert (made.estimate, made.low, made.high) == pytest.approx(
        (1.38728323699422, 0.888858546513668, 2.06416749096839), rel=1e-7
    )
    assert (made.low_byar, made.high_byar) == pytest.approx((0.888596583808647, 2.0642552850858), rel=1e-7)
    assert (made.z, made.p) == pytest.approx((1.61083757339506, 0.121272357340784), rel=1e-7)
    none = observed_expected(observed=0, expected=3.2)
    assert (none.low, none.high, none.high_byar) == pytest.approx((0, 1.1527748294106, 1.1462536975543), rel=1e-7)
    assert none.p == pytest.approx(0.0407622039783662, rel=1e-7)


def test_weights_of_one_operation() -> None:
    p = [0.01, 0.05, 0.1, 0.3, 0.5]
    failed = [0.683196849706777, 0.644357016390513, 0.59783700075562, 0.430782916092454, 0.287682072451781]
    assert weights(np.ones(5), p, odds_ratio=2) == pytest.approx(failed, rel=1e-10)
    fine = [0.00501254182354429, 0.0253178079842899, 0.0512932943875506, 0.162518929497775, 0.287682072451781]
    assert weights(np.zeros(5), p, odds_ratio=0.5) == pytest.approx(fine, rel=1e-10)


def test_a_series_that_gets_worse_and_one_that_gets_better() -> None:
    y = [0, 1, 0, 1, 0, 1, 1, 0, 1, 0]
    p = [0.05, 0.1, 0.02, 0.3, 0.15, 0.08, 0.25, 0.04, 0.12, 0.4]
    made = cumulative_sum(y, p, odds_ratio=2, limit=1.5)
    assert made.path[[1, 3, 6, 9]] == pytest.approx(
        [0.59783700075562, 1.00881728955189, 1.95524511584629, 2.15937066132474], rel=1e-10
    )
    assert made.signal == 6
    assert expected_less_observed(y, p)[[0, 4, 9]] == pytest.approx([0.05, -1.38, -3.49])
    better = cumulative_sum(
        [0, 0, 0, 1, 0, 0, 0, 0, 0, 0],
        [0.2, 0.35, 0.15, 0.1, 0.5, 0.4, 0.3, 0.25, 0.45, 0.3],
        odds_ratio=0.5,
        limit=1.2,
    )
    assert better.path[[2, 3, 9]] == pytest.approx([-0.375693949774994, 0, -1.22428712501485], rel=1e-10)
    assert better.signal == 9
    assert cumulative_sum(y, p, odds_ratio=2, limit=9).signal is None


@pytest.mark.parametrize(
    ("risk", "true", "length"),
    [(0.1, 1, 240.509472078944), (0.1, 2, 44.4910544005382), (0.2, 1, 144.894835500243), (0.2, 2, 28.1685708807606)],
)
def test_average_run_lengths(risk: float, true: float, length: float) -> None:
    # The chain is an approximation: 1 to 2 % is expected.
    found = run_length(risk=risk, odds_ratio=2, limit=2, true_odds_ratio=true)
    assert found == pytest.approx(length, rel=0.02)


def test_what_is_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        funnel_limits(target=1.2, n=[10], probability=0.5)
    with pytest.raises(ValueError, match="expected above 0"):
        observed_expected(observed=3, expected=0)
    with pytest.raises(ValueError, match="outcome is 0 or 1"):
        weights([2], [0.1], odds_ratio=2)
