"""Skewed and plain means against formulas that can be worked by hand, and the library's robust errors."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.regression.fitted import effects
from analysis.estimators.regression.linear import linear
from analysis.estimators.regression.skewed import gamma_log, log_normal, smeared_means
from analysis.estimators.regression.standardised_mean import standardised_mean_difference, standardised_means

# Clotting times of McCullagh P, Nelder JA, Generalized Linear Models, 2nd ed., 1989, section 8.4.2 [from memory].
FIRST = np.array([118.0, 58, 42, 35, 27, 25, 21, 19, 18])
SECOND = np.array([69.0, 35, 26, 21, 18, 16, 13, 12, 12])
TIMES = np.concatenate([FIRST, SECOND])
LOT = np.column_stack([np.ones(18), np.repeat([0.0, 1.0], 9)])
NAMES = ("intercept", "lot")


def test_two_groups_of_a_gamma_model_are_the_ratio_of_their_means() -> None:
    """The log of a mean has the robust variance sum (y - m)^2 / (n m)^2 in each group."""
    fit = gamma_log(TIMES, LOT, NAMES, correction="CR0")
    found = effects(fit)[1]
    assert (found.estimate, found.scale) == (pytest.approx(SECOND.mean() / FIRST.mean()), "ratio of means")
    parts = [((y - y.mean()) ** 2).sum() / (len(y) * y.mean()) ** 2 for y in (FIRST, SECOND)]
    assert found.standard_error == pytest.approx(np.sqrt(sum(parts)))


def test_a_gamma_model_s_own_errors_are_the_library_s() -> None:
    import statsmodels.api as sm

    x = np.column_stack([LOT, np.log(np.tile([5, 10, 15, 20, 30, 40, 60, 80, 100], 2))])
    fit = gamma_log(TIMES, x, (*NAMES, "log u"))
    theirs = sm.GLM(TIMES, x, family=sm.families.Gamma(link=sm.families.links.Log())).fit(tol=1e-12)
    assert fit.coefficients == pytest.approx(theirs.params, rel=1e-6)
    assert np.sqrt(np.diag(fit.extra["covariance_of_model"])) == pytest.approx(theirs.bse, rel=1e-5)


def test_smearing_of_two_groups_by_hand() -> None:
    """Duan N, J Am Stat Assoc 1983;78:605-610: geometric mean times the mean of exp(residual) over all rows."""
    fit = log_normal(TIMES, LOT, NAMES)
    geometric = [np.exp(np.log(y).mean()) for y in (FIRST, SECOND)]
    assert effects(fit)[1].estimate == pytest.approx(geometric[1] / geometric[0])
    factor = np.concatenate([FIRST / geometric[0], SECOND / geometric[1]]).mean()
    assert smeared_means(fit, LOT[[0, 9]]) == pytest.approx([geometric[0] * factor, geometric[1] * factor])
    alone = log_normal(TIMES, LOT[:, :1], NAMES[:1])
    assert smeared_means(alone, LOT[:1, :1]) == pytest.approx([TIMES.mean()])


def test_robust_errors_of_a_linear_model_are_the_library_s() -> None:
    import statsmodels.api as sm

    x = np.column_stack([LOT, np.tile(np.arange(9.0), 2)])
    hc3 = sm.OLS(TIMES, x).fit(cov_type="HC3", use_t=True)
    ours = linear(TIMES, x, (*NAMES, "order"))
    assert ours.standard_errors == pytest.approx(hc3.bse, rel=1e-9)
    assert [each.p for each in effects(ours)] == pytest.approx(hc3.pvalues, rel=1e-9)
    cluster = np.repeat(np.arange(6), 3)
    groups = sm.OLS(TIMES, x).fit(cov_type="cluster", cov_kwds={"groups": cluster}, use_t=True)
    clustered = linear(TIMES, x, (*NAMES, "order"), cluster=cluster, correction="CR1S")
    assert clustered.standard_errors == pytest.approx(groups.bse, rel=1e-9)
    assert [each.high for each in effects(clustered)] == pytest.approx(groups.conf_int()[:, 1], rel=1e-9)


def test_means_of_the_cohort_of_two_groups_are_the_groups_own() -> None:
    one, other = LOT[9:], LOT[:9]
    for fit in (gamma_log(TIMES, LOT, NAMES), linear(TIMES, LOT, NAMES)):
        found = standardised_means(fit, [one, other], ["second", "first"])
        assert [each.estimate for each in found] == pytest.approx([SECOND.mean(), FIRST.mean()])
        gap = standardised_mean_difference(fit, one, other)
        assert gap.estimate == pytest.approx(SECOND.mean() - FIRST.mean())
        # Apart from the factors n/(n-1) and (1 - 1/n)^-2 both are the sum of the groups' variances of a mean.
        plain = sum(((y - y.mean()) ** 2).sum() / len(y) ** 2 for y in (FIRST, SECOND))
        assert gap.standard_error**2 / plain == pytest.approx(
            18 / 17 if fit.clusters is None and fit.df is None else (9 / 8) ** 2
        )
