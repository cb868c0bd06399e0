"""Rubin's rules against published formulas worked out elsewhere."""

from __future__ import annotations

import math

import pytest

from analysis.estimators.pooled_proportion import AT_THE_MEAN, ON_LOGIT, pooled_proportion
from analysis.estimators.proportions import proportion_interval
from analysis.estimators.rubin import barnard_rubin_df, pool

CLOSE = 1e-9
# Computed by R, mice 3.15.0 pool.scalar, by Barnard J, Rubin DB, Biometrika 1999;86:948-955.
FIVE = {
    "estimate": 0.878,
    "within": 0.06234,
    "between": 0.01497,
    "total": 0.080304,
    "se": 0.283379604064936,
    "share_missing": 0.223699940227137,
    "riv": 0.288161693936477,
    "df_rubin": 79.9333942880193,
    "df": 42.0078326393163,
    "fraction_missing": 0.258196160740307,
    "low": 0.306119965163823,
    "high": 1.44988003483618,
}
THREE = {
    "estimate": 1.23333333333333,
    "total": 1.28444444444444,
    "share_missing": 0.750865051903114,
    "riv": 3.01388888888889,
    "df_rubin": 3.54736775043004,
    "df": 2.12332642100465,
    "fraction_missing": 0.8481202051471,
    "low": -3.38140025677705,
    "high": 5.84806692344371,
}


def test_five_imputations_of_120_observations_and_4_coefficients():
    made = pool([0.82, 0.95, 0.71, 0.88, 1.03], [0.0625, 0.0576, 0.0676, 0.06, 0.064], 120 - 4)
    for name, value in FIVE.items():
        assert getattr(made, name) == pytest.approx(value, rel=CLOSE), name


def test_three_imputations_of_a_small_sample():
    made = pool([1.2, 2.1, 0.4], [0.3, 0.25, 0.41], 25 - 2)
    for name, value in THREE.items():
        assert getattr(made, name) == pytest.approx(value, rel=CLOSE), name


def test_an_endless_sample_has_the_degrees_of_freedom_of_1987():
    made = pool([0.82, 0.95, 0.71, 0.88, 1.03], [0.0625, 0.0576, 0.0676, 0.06, 0.064])
    assert made.df == pytest.approx(FIVE["df_rubin"], rel=CLOSE)
    # The same source: the limits with df of 1987.
    assert (made.low, made.high) == (pytest.approx(0.314049401618237), pytest.approx(1.44195059838176))


def test_nothing_between_imputations_leaves_the_complete_degrees_of_freedom_but_for_their_own_factor():
    made = pool([0.5, 0.5, 0.5], [0.1, 0.1, 0.1], 30)
    assert (made.between, made.riv, made.estimate, made.se) == (0.0, 0.0, 0.5, math.sqrt(0.1))
    assert made.df == barnard_rubin_df(3, 0.0, 30) == pytest.approx(31 / 33 * 30)
    assert pool([0.5, 0.5], [0.1, 0.1]).high == pytest.approx(0.5 + 1.959963984540054 * math.sqrt(0.1))


def test_a_proportion_is_pooled_on_the_logit():
    # Computed by R, mice 3.15.0 pool.scalar on log(x / (n - x)) with variance 1/x + 1/(n - x) and n - 1, taken back.
    made = pooled_proportion([150, 154, 148, 157, 152], 200)
    assert made.method == ON_LOGIT
    assert made.estimate == pytest.approx(0.761355145604722, rel=CLOSE)
    assert (made.low, made.high) == (pytest.approx(0.681459272695735), pytest.approx(0.826319019587765))
    assert made.df == pytest.approx(35.6670589218321, rel=CLOSE)


def test_a_design_effect_widens_and_never_moves():
    plain, wide = (pooled_proportion([50, 55, 60], 100, design_effect=[deff] * 3, complete_df=60) for deff in (1, 2))
    assert wide.estimate == plain.estimate
    assert wide.low < plain.low < plain.high < wide.high


@pytest.mark.parametrize("events", [[0, 1, 2], [10, 9, 8], [0, 10, 5]])
def test_none_or_all_in_any_imputation_gives_wilson_at_the_mean(events: list[int]):
    made = pooled_proportion(events, 10)
    mean = sum(events) / 30
    assert (made.method, made.estimate) == (AT_THE_MEAN, pytest.approx(mean))
    plain = proportion_interval(events=10 * mean, n=10)
    assert made.low < plain.low < plain.high < made.high  # what the imputations differ by is in it too


def test_nothing_differs_and_nobody_is_free_gives_the_plain_wilson_interval():
    made, plain = pooled_proportion([0, 0, 0], 8), proportion_interval(events=0, n=8)
    assert (made.estimate, made.low, made.high) == (0.0, plain.low, plain.high)


def test_nobody_has_no_proportion_and_a_reason():
    made = pooled_proportion([0, 0], 0)
    assert (made.estimate, made.low, made.reason) == (None, None, "nobody is in the group")
    alone = pooled_proportion([3, 4], 8, complete_df=0)
    assert (alone.low, alone.reason) == (None, "fewer than two clusters")


@pytest.mark.parametrize(
    ("estimates", "variances", "df", "said"),
    [
        ([1.0], [1.0], 5, "2 or more imputations"),
        ([1.0, 2.0], [1.0], 5, "2 or more imputations"),
        ([1.0, math.nan], [1.0, 1.0], 5, "must be finite"),
        ([1.0, 2.0], [1.0, 0.0], 5, "above 0"),
        ([1.0, 2.0], [1.0, 1.0], 0, "complete_df is 0"),
    ],
)
def test_what_cannot_be_pooled_is_refused(estimates: list[float], variances: list[float], df: float, said: str):
    with pytest.raises(ValueError, match=said):
        pool(estimates, variances, df)


def test_more_events_than_observations_are_refused():
    with pytest.raises(ValueError, match="0 to 5 events"):
        pooled_proportion([6, 2], 5)
