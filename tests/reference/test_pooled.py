"""Pooled regressions against mice of R, on completed data made by it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.pooled_regression import (
    PooledFit,
    _reiter_df,
    enough_imputations,
    pooled_effects,
    pooled_fit,
    pooled_wald,
)
from analysis.estimators.regression.fitted import Fitted, NotEstimable, wald_test
from analysis.estimators.regression.linear import linear

NAMES = ("intercept", "age", "bmi")
# R 4.2.2, mice 3.15.0: mice(nhanes, m = 5), with(lm(chl ~ age + bmi)), pool, D1; nhanes of Schafer JL, Analysis of
# Incomplete Multivariate Data, Chapman & Hall 1997, as in mice. Barnard-Rubin degrees of freedom of n - k = 22.
EXPECTED = {
    "estimate": (-8.73547480249045, 30.1132903944882, 5.71371577508455),
    "se": (64.8132733806242, 10.0220037290609, 2.15404786229928),
    "df": (13.3020738171679, 13.7711672263973, 11.6386284710783),
    "low": (-148.433499105262, 8.58467259947513, 1.00423559692917),
    "high": (130.962549500281, 51.6419081895013, 10.4231959532399),
    "p": (0.894804584208784, 0.009608566644453, 0.0215558856560996),
    "fraction_missing": (0.314468753134364, 0.299619866593766, 0.369792219869744),
    "share_missing": (0.218604159561543, 0.204789157189218, 0.270064977855724),
    "riv": (0.279761099622542, 0.257528124824559, 0.369984957102584),
}


@pytest.fixture(scope="module")
def pooled() -> PooledFit:
    data = pd.read_csv(Path(__file__).parent / "data" / "nutrition_imputed.csv")
    fits = []
    for _, one in data.groupby("imp"):
        x = np.column_stack([np.ones(len(one)), one[["age", "bmi"]]])
        fit = linear(one["chl"], x, NAMES)
        # Model covariance, as the reference has it.
        fits.append(
            Fitted(
                kind=fit.kind,
                names=fit.names,
                coefficients=fit.coefficients,
                covariance=fit.extra["covariance_of_model"],
                covariance_method="from the model",
                n=fit.n,
                df=fit.df,
                scale="difference",
            )
        )
    return pooled_fit(fits)


def test_coefficients_and_all_that_goes_with_them(pooled: PooledFit) -> None:
    assert pooled.complete_df == 22
    found = pooled_effects(pooled)
    for key, expected in EXPECTED.items():
        got = [getattr(each.effect if hasattr(each.effect, key) else each.pooled, key) for each in found]
        assert got == pytest.approx(list(expected), rel=1e-6), key
    assert np.sqrt(np.diag(pooled.covariance)) == pytest.approx(EXPECTED["se"], rel=1e-6)


def test_both_slopes_together(pooled: PooledFit) -> None:
    """D1 of Li, Raghunathan and Rubin with Reiter's degrees of freedom."""
    found = pooled_wald(pooled, [1, 2], "age and bmi")
    assert (found.statistic, found.df_denominator, found.p) == pytest.approx(
        (5.46322991017414, 10.8050955546532, 0.0229367019751155), rel=1e-6
    )


def test_more_imputations_were_needed(pooled: PooledFit) -> None:
    found = enough_imputations(pooled)
    assert (found.of, found.imputations, found.enough) == ("bmi", 5, False)
    assert found.largest_fraction == pytest.approx(EXPECTED["fraction_missing"][2], rel=1e-6)


def test_without_anything_missing_pooling_changes_nothing(pooled: PooledFit) -> None:
    same = pooled_fit([pooled.fits[0]] * 4)
    found = pooled_effects(same)
    assert [each.effect.estimate for each in found] == pytest.approx(list(pooled.fits[0].coefficients))
    assert [each.effect.standard_error for each in found] == pytest.approx(list(pooled.fits[0].standard_errors))
    joint = pooled_wald(same, [1, 2], "both")
    assert joint.statistic == pytest.approx(wald_test(pooled.fits[0], [1, 2], "both").statistic)
    assert enough_imputations(same).needed <= 4


def test_degrees_of_freedom_grow_to_those_of_an_endless_sample() -> None:
    assert _reiter_df(3, 20, 0.3, 1e9) == pytest.approx(_reiter_df(3, 20, 0.3, math.inf), rel=1e-3)
    assert (_reiter_df(2, 2, 0.3, 50) or 0) > 0
    assert _reiter_df(2, 20, 2.0, 5) is None


def test_what_cannot_be_pooled_is_refused(pooled: PooledFit) -> None:
    with pytest.raises(NotEstimable, match="two imputed data sets or more"):
        pooled_fit(pooled.fits[:1])
    with pytest.raises(NotEstimable, match="no row"):
        pooled_fit(pooled.fits, complete_df=0)
    other = linear(np.arange(9.0), np.column_stack([np.ones(9), np.arange(9.0) % 4]), ("intercept", "x"))
    with pytest.raises(ValueError, match="not of one model"):
        pooled_fit([pooled.fits[0], other])
