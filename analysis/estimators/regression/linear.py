"""Linear regression with robust errors: differences of means, of nights or of times that are not skewed much."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.dependent import refuse_dependent
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable

HC3 = "robust to any variance (HC3)"


def linear(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit mean = x b by least squares; a coefficient is a difference of means in the outcome's own unit.

    outcome: shape (rows,), without gaps. x: shape (rows, p), intercept included. cluster: shape (rows,); limits then
    are of t with clusters - 1 degrees of freedom (Cameron AC, Miller DL, J Hum Resour 2015;50:317-372). Without, the
    errors are HC3 (MacKinnon JG, White H, J Econometrics 1985;29:305-325; Long JS, Ervin LH, Am Stat 2000;54:217-224),
    of t with n - p. extra: r_squared, residual_sd.
    Raises NotEstimable when all outcomes are alike, without a row to spare, with fewer than two clusters, or where a
    row determines a coefficient alone; ValueError for values that are no numbers.
    """
    y = check_numbers(outcome, x)
    refuse_dependent(x, names)
    n, p = x.shape
    bread: FloatArray = np.asarray(np.linalg.inv(x.T @ x), dtype=np.float64)
    b = np.linalg.lstsq(x, y, rcond=None)[0]
    left = y - x @ b
    clusters, df = None, float(n - p)
    if cluster is not None:
        covariance, clusters = cluster_covariance(
            bread=bread, scores=x * left[:, None], cluster=cluster, correction=correction
        )
        method, df = CORRECTIONS[correction], float(clusters - 1)
        if clusters < 2:
            raise NotEstimable("There is one cluster, so that no error can be told. Leave the clustering out.")
    else:
        leverage = np.einsum("ij,jk,ik->i", x, bread, x)
        if leverage.max() > 1 - 1e-9:
            raise NotEstimable(
                "A row has a level to itself and determines its coefficient alone, so that no error can be told. Join "
                "that level with another."
            )
        scaled = x * (left / (1 - leverage))[:, None]
        covariance, method = bread @ (scaled.T @ scaled) @ bread, HC3
    return Fitted(
        kind="linear regression, least squares",
        names=tuple(names),
        coefficients=np.asarray(b, dtype=np.float64),
        covariance=np.asarray(covariance, dtype=np.float64),
        covariance_method=method,
        n=n,
        clusters=clusters,
        df=df,
        scale="difference",
        extra={
            "r_squared": float(1 - left @ left / ((y - y.mean()) @ (y - y.mean()))),
            "residual_sd": float(np.sqrt(left @ left / (n - p))),
            "covariance_of_model": bread * float(left @ left / (n - p)),
        },
    )


def check_numbers(outcome: npt.ArrayLike, x: FloatArray) -> FloatArray:
    """The outcome as numbers; raises NotEstimable when it does not vary or there is no row to spare."""
    y = np.asarray(outcome, dtype=np.float64)
    if y.ndim != 1 or not np.isfinite(y).all():
        raise ValueError("outcome must be numbers, none missing or infinite.")
    if not len(y) or y.min() == y.max():
        what = "there is no row" if not len(y) else f"all {len(y):,} rows have the same outcome, {y[0]:g}"
        raise NotEstimable(f"No effect on the outcome can be estimated: {what}. Ask of other rows or another outcome.")
    if len(y) <= x.shape[1]:
        raise NotEstimable(
            f"{x.shape[1]} coefficients are asked of {len(y):,} rows, which leaves nothing to tell the error by. Leave "
            "terms out."
        )
    return y
