"""Learning by case number, and the cumulative sum with its band."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.design.terms import Term
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.cumulative_sum import cumulative_sum
from analysis.estimators.survival.learning_curve import learning_curve


def operations(seed: int = 1, operators: int = 12, *, learns: float = 0.9) -> pd.DataFrame:
    """Each doubling of cases takes `learns` of the time; operators with more cases are slower all along."""
    rng = np.random.default_rng(seed)
    many = rng.integers(30, 90, operators)
    operator = np.repeat(np.arange(operators), many)
    case = np.concatenate([np.arange(1, one + 1) for one in many])
    size = rng.normal(10, 3, len(case))
    base = 60 * (many[operator] / 60) * np.exp(0.02 * size)
    minutes = base * learns ** np.log2(case) * rng.gamma(20, 1 / 20, len(case))
    failed = rng.random(len(case)) < 1 / (1 + np.exp(0.2 + 0.25 * np.log2(case)))
    columns = {"operator": [f"O{at}" for at in operator], "case": case, "minutes": minutes, "failed": failed * 1.0}
    return pd.DataFrame({**columns, "size": size})


def curve(frame: pd.DataFrame, **more: Any) -> Any:
    asked = {"outcome": "minutes", "kind": "time", "adjusters": [Term(column="size")]} | more
    return learning_curve(frame, case_number="case", operator="operator", **asked)


def test_comparing_each_with_their_own_cases_finds_the_learning_that_slow_and_busy_operators_hide() -> None:
    frame = operations()
    within, pooled = curve(frame, between="within"), curve(frame)
    assert within.per_doubling.low < 0.9 < within.per_doubling.high
    assert pooled.per_doubling.estimate > within.per_doubling.high
    assert any("differ from those with few in more than practice" in said for said in pooled.remarks)
    assert (within.operators, within.fit.df, within.n) == (12, 11, len(frame))


def test_the_curve_falls_and_ends_where_two_operators_do() -> None:
    frame = operations()
    found = curve(frame, between="within")
    numbers, means = zip(*found.curve, strict=True)
    assert numbers[-1] == found.reach == sorted(frame.groupby("operator")["case"].max())[-2]
    assert [mean.estimate for mean in means] == sorted((mean.estimate for mean in means), reverse=True)
    assert curve(frame, at=(1, 40, 5000)).curve[-1][0] == 40


def test_a_spline_is_tested_against_a_straight_line() -> None:
    found = curve(operations(), shape="spline", between="within")
    assert found.per_doubling is None
    assert found.bent.df == 2 and found.bent.p < 0.01


def test_failure_has_a_curve_of_risks_pooled_and_none_within() -> None:
    frame = operations(operators=14)
    pooled = curve(frame, outcome="failed", kind="failure")
    assert pooled.per_doubling.estimate < 1 and pooled.per_doubling.scale == "odds ratio"
    assert all(0 < risk.low < risk.estimate < risk.high < 1 for _, risk in pooled.curve)
    within = curve(frame, outcome="failed", kind="failure", between="within")
    assert within.curve == ()
    assert any("no curve of the whole cohort" in said for said in within.remarks)


def test_rows_without_an_operator_are_counted_and_few_operators_are_said() -> None:
    frame = operations(operators=4)
    frame.loc[:6, "operator"] = None
    found = curve(frame)
    assert (found.unknown, found.n) == (7, len(frame) - 7)
    assert any("With 4 operators" in said for said in found.remarks)


def test_what_is_refused() -> None:
    frame = operations()
    with pytest.raises(NotEstimable, match="There is one operator"):
        curve(frame[frame["operator"] == "O1"])
    with pytest.raises(NotEstimable, match="1 case numbers are below 1"):
        curve(frame.assign(case=frame["case"].where(frame.index > 0, 0)))
    with pytest.raises(ValueError, match="There is no column operator"):
        curve(frame.drop(columns="operator"))
    with pytest.raises(ValueError, match="'speed' is none of time, failure"):
        curve(frame, kind="speed")


@given(st.lists(st.floats(-100, 100).map(lambda x: round(x, 3)), min_size=10, max_size=60), st.floats(-50, 50))
def test_it_ends_at_zero_whatever_the_values_and_a_shift_is_of_no_matter(values: list[float], shift: float) -> None:
    if np.ptp(values) < 0.01:
        return
    found = cumulative_sum(values, replicates=100)
    assert found.total[-1] == 0 and found.low[-1] == found.high[-1] == 0
    moved = cumulative_sum(np.array(values) + shift, replicates=100)
    assert moved.total == pytest.approx(found.total, abs=1e-6)
    assert "starts and ends at zero by construction" in found.remark


def test_learning_leaves_the_band_and_noise_seldom_does() -> None:
    rng = np.random.default_rng(4)
    falls = cumulative_sum(80 * 0.85 ** np.log2(np.arange(1, 61)) + rng.normal(0, 5, 60))
    assert falls.p < 0.01
    assert (falls.total > falls.high).any()
    found = [cumulative_sum(rng.gamma(2, 1, 40), replicates=200, seed=at).p <= 0.05 for at in range(400)]
    assert abs(np.mean(found) - 0.05) < 3 * np.sqrt(0.05 * 0.95 / 400)


def test_the_band_and_p_say_the_same() -> None:
    for seed in range(20):
        found = cumulative_sum(np.random.default_rng(seed).normal(size=30) + np.linspace(0.5, -0.5, 30), seed=seed)
        beyond = bool((np.abs(found.total[:-1]) > found.high[:-1] * (1 + 1e-9)).any())
        if abs(found.p - 0.05) > 0.002:
            assert beyond == (found.p < 0.05)


def test_the_seed_decides_and_too_little_is_refused() -> None:
    values = np.random.default_rng(1).normal(size=30)
    assert cumulative_sum(values, seed=3).p == cumulative_sum(values, seed=3).p
    with pytest.raises(NotEstimable, match="there are 9 cases"):
        cumulative_sum(values[:9])
    with pytest.raises(NotEstimable, match="all 12 cases have the same value"):
        cumulative_sum([1] * 12)
    with pytest.raises(ValueError, match="none missing"):
        cumulative_sum([*values, np.nan])
