"""Counts against published fits.

Dobson AJ, An Introduction to Generalized Linear Models, 1990, table 6.1 (a trial's counts by outcome and treatment; R
prints the fit in help(glm) [from memory]). Bliss CI, Fisher RA, Biometrics 1953;9:176-200: red mites on 150 apple
leaves, k = 1.024 by maximum likelihood [from memory].
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.regression.counts import counts, dispersion, negative_binomial, poisson

TRIAL = np.array([18, 17, 15, 20, 10, 20, 25, 13, 12])
OUTCOME, TREATMENT = np.tile([0, 1, 2], 3), np.repeat([0, 1, 2], 3)
OF_TRIAL = np.column_stack(
    [np.ones(9), OUTCOME == 1, OUTCOME == 2, TREATMENT == 1, TREATMENT == 2],
).astype(float)
MITES = np.repeat(np.arange(8), [70, 38, 17, 10, 9, 3, 2, 1])
ONE = np.ones((150, 1))


def test_a_trial_s_counts() -> None:
    fit = poisson(TRIAL, OF_TRIAL, ("intercept", "o2", "o3", "t2", "t3"))
    assert fit.coefficients == pytest.approx([3.045, -0.4543, -0.2930, 0, 0], abs=5e-4)
    own = np.sqrt(np.diag(fit.extra["covariance_of_model"]))
    assert own == pytest.approx([0.1709, 0.2022, 0.1927, 0.2, 0.2], abs=5e-4)


def test_robust_errors_of_a_count_are_the_library_s() -> None:
    import statsmodels.api as sm

    cluster = np.array([0, 0, 1, 1, 2, 2, 3, 3, 4])
    model = sm.GLM(TRIAL, OF_TRIAL[:, :3], family=sm.families.Poisson())
    theirs = model.fit(tol=1e-12, cov_type="cluster", cov_kwds={"groups": cluster, "use_correction": False})
    ours = poisson(TRIAL, OF_TRIAL[:, :3], ("intercept", "o2", "o3"), cluster=cluster, correction="CR0")
    assert ours.standard_errors == pytest.approx(theirs.bse, rel=1e-6)
    white = model.fit(tol=1e-12, cov_type="HC0")
    alone = poisson(TRIAL, OF_TRIAL[:, :3], ("intercept", "o2", "o3"), correction="CR0")
    assert alone.standard_errors == pytest.approx(white.bse, rel=1e-6)
    assert (ours.clusters, alone.clusters) == (5, None)


def test_mites_on_leaves() -> None:
    fit = negative_binomial(MITES, ONE, ("intercept",))
    assert 1 / fit.extra["alpha"] == pytest.approx(1.024, abs=0.002)
    assert np.exp(fit.coefficients[0]) == pytest.approx(172 / 150)


def test_mites_scatter_more_than_poisson_by_hand() -> None:
    """With one mean m Dean's statistic is the sum of (y - m)^2 - y over the root of 2 n m^2."""
    m = MITES.mean()
    found = dispersion(MITES, ONE)
    assert found.statistic == pytest.approx((((MITES - m) ** 2).sum() - MITES.sum()) / np.sqrt(2 * 150 * m**2))
    assert found.ratio == pytest.approx(MITES.var(ddof=1) / m)
    answer = counts(MITES, ONE, ("intercept",))
    assert answer.fit.kind.startswith("negative binomial")
    assert answer.reason.startswith("overdispersed")
