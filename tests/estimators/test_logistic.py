"""What a logistic model refuses, and its laws."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.estimators.regression.fitted import NotEstimable, effect, effects, wald_test
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.separation import separating

NAMES = ("intercept", "x")


def columns(x: list[float]) -> np.ndarray:
    return np.column_stack([np.ones(len(x)), x])


@pytest.mark.parametrize(
    ("outcome", "x", "said"),
    [
        ([1, 1, 1, 1], [1.0, 2, 3, 4], "all 4 rows have the same outcome"),
        ([], [], "there is no row"),
        ([0, 0, 0, 1, 1, 1] * 10, [1.0, 2, 3, 4, 5, 6] * 10, "separated by intercept, x"),
        ([0, 1, 0, 1, 1, 1] * 10, [0.0, 0, 0, 0, 1, 1] * 10, "separated by x"),
        ([0] * 95 + [1] * 5, list(range(100)), "5.0 for each; at 10 for each the data carry 0"),
    ],
)
def test_what_cannot_be_estimated_is_refused_with_its_reason(outcome: list[int], x: list[float], said: str) -> None:
    with pytest.raises(NotEstimable, match=said):
        logistic(outcome, columns(x), NAMES)


def test_separation_is_told_from_a_strong_effect() -> None:
    strong = [0.0] * 50 + [1.0] * 50
    outcome = [0] * 49 + [1] + [1] * 49 + [0]
    assert separating(outcome, columns(strong), NAMES) == []
    assert logistic(outcome, columns(strong), NAMES).coefficients[1] == pytest.approx(2 * np.log(49))
    assert separating([0] * 50 + [1] * 50, columns(strong), NAMES)[-1:] == ["x"]


def test_the_endometrial_example_is_separated_by_one_column() -> None:
    """Heinze G, Schemper M, Stat Med 2002;21:2409-2419: neovascularisation separates."""
    data = pd.read_csv(Path(__file__).parents[1] / "reference" / "data" / "endometrial.csv")
    x = np.column_stack([np.ones(len(data)), data[["NV", "PI", "EH"]]])
    assert separating(data["HG"], x, ("intercept", "NV", "PI", "EH")) == ["NV"]


def test_too_many_parameters_can_be_insisted_on_and_are_then_remarked_on() -> None:
    x = np.random.default_rng(3).normal(size=100)
    outcome = [0] * 95 + [1] * 5
    assert "5.0 for each" in logistic(outcome, columns(list(x)), NAMES, force=True).remarks[0]
    assert logistic(outcome, columns(list(x)), NAMES, events_per_parameter=5).remarks == ()


@given(st.integers(0, 10_000), st.sampled_from([0.1, 1.0, 25.0]))
def test_an_effect_for_each_so_much_is_so_many_times_as_large(seed: int, unit: float) -> None:
    draw = np.random.default_rng(seed)
    x = draw.normal(size=200)
    outcome = (draw.random(200) < 1 / (1 + np.exp(-x))).astype(int)
    plain, scaled = (logistic(outcome, columns(list(values)), NAMES) for values in (x, x / unit))
    assert scaled.coefficients[1] == pytest.approx(plain.coefficients[1] * unit, rel=1e-6)
    assert effects(scaled)[1].p == pytest.approx(effects(plain)[1].p, rel=1e-6)


@given(st.integers(0, 10_000))
def test_turning_the_outcome_round_turns_the_odds_ratio_round(seed: int) -> None:
    draw = np.random.default_rng(seed)
    x, outcome = draw.normal(size=150), draw.integers(0, 2, 150)
    cluster = draw.integers(0, 40, 150)
    one = effects(logistic(outcome, columns(list(x)), NAMES, cluster=cluster))[1]
    other = effects(logistic(1 - outcome, columns(list(x)), NAMES, cluster=cluster))[1]
    assert (1 / other.estimate, 1 / other.high, 1 / other.low) == pytest.approx(
        (one.estimate, one.low, one.high), rel=1e-6
    )


def test_a_row_a_cluster_gives_the_heteroscedastic_errors_and_order_does_not_matter() -> None:
    draw = np.random.default_rng(8)
    x, outcome = draw.normal(size=300), draw.integers(0, 2, 300)
    cluster = draw.integers(0, 60, 300)
    shuffled = draw.permutation(300)
    one = logistic(outcome, columns(list(x)), NAMES, cluster=cluster)
    other = logistic(outcome[shuffled], columns(list(x[shuffled])), NAMES, cluster=cluster[shuffled])
    assert other.covariance == pytest.approx(one.covariance, rel=1e-9)
    alone = logistic(outcome, columns(list(x)), NAMES, cluster=np.arange(300), correction="CR0")
    assert alone.clusters == 300
    assert effect(alone, [0, 1], "x").standard_error == pytest.approx(alone.standard_errors[1])


def test_a_joint_test_of_one_coefficient_is_its_own() -> None:
    draw = np.random.default_rng(9)
    x, outcome = draw.normal(size=200), draw.integers(0, 2, 200)
    fit = logistic(outcome, columns(list(x)), NAMES)
    assert wald_test(fit, [1], "x").p == pytest.approx(effects(fit)[1].p)


def test_more_coefficients_than_clusters_cannot_be_tested_together() -> None:
    draw = np.random.default_rng(10)
    x = np.column_stack([np.ones(120), draw.normal(size=(120, 3))])
    fit = logistic(draw.integers(0, 2, 120), x, ("intercept", "a", "b", "c"), cluster=np.repeat([0, 1], 60))
    with pytest.raises(NotEstimable, match="lower rank"):
        wald_test(fit, [1, 2, 3], "all")


def test_the_likelihood_without_columns_and_the_cluster_errors_are_the_librarys_whatever_clusters_are_called() -> None:
    import statsmodels.api as sm

    rng = np.random.default_rng(5)
    x = np.column_stack([np.ones(400), rng.normal(size=400)])
    y = (rng.random(400) < 1 / (1 + np.exp(-0.7 * x[:, 1] + 0.4))).astype(float)
    patient = rng.integers(120, size=400)
    theirs = sm.Logit(y, x).fit(disp=0, cov_type="cluster", cov_kwds={"groups": patient})
    for called in (patient, [f"P{number}" for number in patient], patient + 0.5):
        fit = logistic(y, x, NAMES, cluster=called, correction="CR1S")
        assert fit.standard_errors == pytest.approx(np.asarray(theirs.bse), rel=1e-9)
        assert fit.clusters == len(np.unique(patient))
    assert fit.extra["log_likelihood_alone"] == pytest.approx(theirs.llnull, rel=1e-9)


def test_a_column_that_stands_there_twice_is_refused() -> None:
    x = np.random.default_rng(0).normal(size=500)
    outcome = (np.arange(500) % 3 == 0).astype(float)
    assert logistic(outcome, np.column_stack([np.ones(500), x]), NAMES).n == 500
    with pytest.raises(NotEstimable, match="say the same as others"):
        logistic(outcome, np.column_stack([np.ones(500), x, x]), (*NAMES, "x again"))
