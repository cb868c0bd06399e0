"""What models of times and costs refuse, and their laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.estimators.regression.counts import negative_binomial, poisson
from analysis.estimators.regression.fitted import NotEstimable, effects
from analysis.estimators.regression.linear import linear
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.skewed import gamma_log, log_normal, smeared_means
from analysis.estimators.regression.standardised_mean import standardised_means

UNHURRIED = settings(deadline=None)  # the first call loads a library
NAMES = ("intercept", "x")
MODELS = [linear, gamma_log, log_normal]


def drawn(seed: int, n: int = 200) -> tuple[np.ndarray, np.ndarray]:
    draw = np.random.default_rng(seed)
    x = draw.normal(size=n)
    return 60 * np.exp(0.3 * x) * draw.gamma(4, 0.25, n), np.column_stack([np.ones(n), x])


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize(
    ("values", "said"),
    [([], "there is no row"), ([5.0] * 9, "all 9 rows have the same outcome, 5"), ([1.0, 2.0], "2 coefficients are")],
)
def test_what_cannot_be_estimated_is_refused_with_its_reason(model, values: list[float], said: str) -> None:  # type: ignore[no-untyped-def]
    x = np.column_stack([np.ones(len(values)), np.arange(len(values))])
    with pytest.raises(NotEstimable, match=said):
        model(values, x, NAMES)


@pytest.mark.parametrize("model", [gamma_log, log_normal])
def test_noughts_are_counted_and_never_shifted(model) -> None:  # type: ignore[no-untyped-def]
    y, x = drawn(1)
    y[:3] = 0
    with pytest.raises(NotEstimable, match="3 of 200 outcomes are 0 or below"):
        model(y, x, NAMES)
    assert linear(y, x, NAMES).n == 200


@pytest.mark.parametrize("model", MODELS)
def test_missing_values_are_refused(model) -> None:  # type: ignore[no-untyped-def]
    y, x = drawn(2)
    y[7] = np.nan
    with pytest.raises(ValueError, match="none missing"):
        model(y, x, NAMES)


@pytest.mark.parametrize("model", [*MODELS, poisson, negative_binomial])
def test_columns_that_say_the_same_are_named(model) -> None:  # type: ignore[no-untyped-def]
    y, x = drawn(6)
    with pytest.raises(NotEstimable, match="The columns twice say the same as others"):
        model(np.round(y), np.column_stack([x, 2 * x[:, 1] + 1]), (*NAMES, "twice"))


def test_a_level_to_itself_and_a_single_cluster_have_no_error() -> None:
    y, x = drawn(3)
    alone = np.column_stack([x, np.arange(200) == 5]).astype(float)
    with pytest.raises(NotEstimable, match="a level to itself"):
        linear(y, alone, (*NAMES, "alone"))
    with pytest.raises(NotEstimable, match="There is one cluster"):
        linear(y, x, NAMES, cluster=np.zeros(200))


@given(st.integers(0, 10_000), st.sampled_from([0.01, 3.0, 60.0]))
@UNHURRIED
def test_another_unit_changes_no_ratio_and_scales_every_difference(seed: int, unit: float) -> None:
    y, x = drawn(seed)
    for model in (gamma_log, log_normal):
        one, other = (effects(model(values, x, NAMES))[1] for values in (y, y * unit))
        assert (other.estimate, other.low, other.high) == pytest.approx((one.estimate, one.low, one.high), rel=1e-6)
    plain, scaled = (effects(linear(values, x, NAMES))[1] for values in (y, y * unit))
    assert (scaled.estimate, scaled.low) == pytest.approx((plain.estimate * unit, plain.low * unit), rel=1e-9)


@given(st.integers(0, 10_000))
@UNHURRIED
def test_smeared_means_do_not_average_to_less_than_geometric_ones(seed: int) -> None:
    """The mean of exp(residual) is at least exp(mean residual) = 1."""
    y, x = drawn(seed)
    fit = log_normal(y, x, NAMES)
    assert fit.extra["smearing"] >= 1
    assert (smeared_means(fit, x) >= np.exp(x @ fit.coefficients)).all()


def test_a_row_a_cluster_of_the_gamma_model_is_its_own_robust_error() -> None:
    y, x = drawn(4)
    one, other = gamma_log(y, x, NAMES, cluster=np.arange(200)), gamma_log(y, x, NAMES)
    assert one.covariance == pytest.approx(other.covariance)
    assert (one.clusters, other.clusters) == (200, None)


def test_a_mean_is_read_only_from_a_model_of_one() -> None:
    y, x = drawn(5)
    for fit, scale in ((log_normal(y, x, NAMES), "ratio of geometric means"), (logistic(y > 60, x, NAMES), "odds")):
        with pytest.raises(ValueError, match=scale):
            standardised_means(fit, [x], ["all"])
    found = standardised_means(gamma_log(y, x, NAMES), [x], ["all"])[0]
    assert found.low < y.mean() < found.high
