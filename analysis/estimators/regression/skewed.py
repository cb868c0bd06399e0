"""Times and costs, which are skewed: ratios of means by a gamma model, ratios of geometric means by logs."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import Correction
from analysis.estimators.regression.counts import sandwich
from analysis.estimators.regression.dependent import refuse_dependent
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.linear import check_numbers, linear

MOST_STEPS = 200


def gamma_log(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit log mean = x b with a standard deviation in proportion to the mean; exp(b) is a ratio of means.

    outcome: above 0, shape (rows,), without gaps (minutes, a cost). x: shape (rows, p), intercept included. Errors
    from the sandwich over clusters, or rows, so that the variance need not be right; the log of the mean has to be.
    McCullagh P, Nelder JA, Generalized Linear Models, 2nd ed., Chapman & Hall 1989, chapter 8; for costs Manning WG,
    Mullahy J, J Health Econ 2001;20:461-494. extra: coefficient_of_variation, covariance_of_model.
    Raises NotEstimable for an outcome of 0 or below (counted), one that does not vary, or without convergence.
    """
    import statsmodels.api as sm

    y = _above_nought(outcome, x)
    refuse_dependent(x, names)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # non-convergence is looked for below
        model = sm.GLM(y, x, family=sm.families.Gamma(link=sm.families.links.Log()))
        try:
            made = model.fit(maxiter=MOST_STEPS, tol=1e-12, rtol=1e-13, tol_criterion="deviance")
        except (np.linalg.LinAlgError, ValueError):
            made = None
    if made is None or not made.converged or not np.isfinite(made.params).all():
        raise NotEstimable(
            f"The gamma model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer terms, or "
            "columns on scales that are more alike."
        )
    # With a log link X'X is the expected information, and the score of a row x (y - mean) / mean.
    score = x * (y / np.asarray(made.fittedvalues) - 1)[:, None]
    bread: FloatArray = np.asarray(np.linalg.inv(x.T @ x), dtype=np.float64)
    covariance, clusters, method = sandwich(bread=bread, scores=score, cluster=cluster, correction=correction)
    return Fitted(
        kind="gamma regression, log link",
        names=tuple(names),
        coefficients=np.asarray(made.params, dtype=np.float64),
        covariance=covariance,
        covariance_method=method,
        n=len(y),
        clusters=clusters,
        scale="ratio of means",
        extra={
            "coefficient_of_variation": float(np.sqrt(made.scale)),
            "covariance_of_model": bread * float(made.scale),
        },
    )


def log_normal(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit mean of the log = x b; exp(b) is a ratio of geometric means, which is one of means only where the scatter of
    the log is alike in all rows.

    Arguments, errors and refusals as `linear` of the log, and for an outcome of 0 or below. extra: smearing, the mean
    of exp(residual) that takes exp(x b) to a mean on the outcome's own scale (`smeared_means`).
    """
    y = np.log(_above_nought(outcome, x))
    fit = linear(y, x, names, cluster=cluster, correction=correction)
    left = y - x @ fit.coefficients
    remark = "a ratio of geometric means: of means only where the log scatters alike in all rows"
    return replace(
        fit,
        kind="linear regression of the log",
        scale="ratio of geometric means",
        remarks=(remark,),
        extra={**fit.extra, "smearing": float(np.exp(left).mean())},
    )


def smeared_means(fit: Fitted, x: FloatArray) -> FloatArray:
    """The mean outcome of each row by a `log_normal` fit, shape (rows,): exp(x b) times the mean of exp(residual).

    Duan N, J Am Stat Assoc 1983;78:605-610. Right where the residuals of the log are alike in all rows.
    """
    return np.asarray(np.exp(x @ fit.coefficients) * fit.extra["smearing"], dtype=np.float64)


def _above_nought(outcome: npt.ArrayLike, x: FloatArray) -> FloatArray:
    y = check_numbers(outcome, x)
    wrong = int((y <= 0).sum())
    if wrong:
        raise NotEstimable(
            f"{wrong:,} of {len(y):,} outcomes are 0 or below, and a gamma or log model takes only what is above 0. "
            "Use the linear model with robust errors, or the count model for whole numbers; never add a constant."
        )
    return y
