"""The outcome on an exposure of few values, in rows weighted so that all values are alike in what was known."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from analysis.estimators.confounding.contrasts import outcome_of
from analysis.estimators.confounding.generalised_propensity import GeneralisedPropensity
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable

AWARE = "robust, stacked with the estimating equations of the generalised propensity"
MOST_STEPS, NEAR = 50, 1e-11


def weighted_outcome(
    outcome: npt.ArrayLike,
    score: GeneralisedPropensity,
    *,
    per: float = 0.1,
    label: str = "exposure",
    cluster: npt.ArrayLike | None = None,
) -> Fitted:
    """A straight line in the exposure, per so much of it: logistic for a yes/no outcome, of means for a number.

    outcome: shape (rows,), without gaps. cluster: shape (rows,). The estimand is marginal: the odds ratio (difference)
    per `per` if the whole population were moved, not at given covariates, so that it is not that of an adjusted
    logistic model. Robust errors: the residuals of the weighted scores after regression on the scores of the model of
    the weights, which estimates them (Pierce DA, Ann Stat 1982;10:475-478; Henmi M, Eguchi S, Biometrika
    2004;91:929-941, from memory), summed within clusters times G/(G-1). extra: error_weights_known, as if the weights
    were given.

    Raises NotEstimable when the outcome does not vary or is separated by the exposure, and with one cluster; ValueError
    for gaps or a `per` not above 0.
    """
    if not per > 0:
        raise ValueError(f"An effect is for each so much of the exposure, above 0, not {per:g}.")
    y, binary = outcome_of(outcome, len(score.code))
    exposure = np.asarray(score.values)[score.code] / per
    centre = float(exposure.mean())
    x = np.column_stack([np.ones(len(y)), exposure - centre])
    b = _fit(y, x, score, binary=binary)
    mean = 1 / (1 + np.exp(-(x @ b))) if binary else x @ b
    spread = mean * (1 - mean) if binary else np.ones(len(y))
    bread = np.linalg.inv((x * (score.weights * spread)[:, None]).T @ x)
    own = x * (score.weights * (y - mean))[:, None]
    moving = np.where(score.is_cut[:, None], 0.0, own)
    aware = own - _projected(moving, score)
    sums, clusters, factor = aware, None, 1.0
    if cluster is not None:
        _, code = np.unique(np.asarray(cluster), return_inverse=True)
        clusters = int(code.max()) + 1
        if clusters < 2:
            raise NotEstimable("There is one cluster, so that no error can be told. Leave the clustering out.")
        sums = np.column_stack([np.bincount(code, weights=column, minlength=clusters) for column in aware.T])
        factor = clusters / (clusters - 1)
    back = np.array([[1.0, -centre], [0.0, 1.0]])  # to the intercept at an exposure of 0
    covariance = back @ (bread @ (sums.T @ sums) @ bread * factor) @ back.T
    known = bread @ (own.T @ own) @ bread
    return Fitted(
        kind=("weighted logistic regression" if binary else "weighted least squares") + ", marginal",
        names=("intercept", f"{label}, per {per:g}"),
        coefficients=back @ b,
        covariance=np.asarray(covariance, dtype=np.float64),
        covariance_method=AWARE + ("" if clusters is None else ", clusters times G/(G-1)"),
        n=len(y),
        events=int(y.sum()) if binary else None,
        clusters=clusters,
        scale="odds ratio" if binary else "difference",
        extra={"error_weights_known": float(np.sqrt(known[1, 1])), "model_of_weights": score.model},
    )


def weighted_means(outcome: npt.ArrayLike, score: GeneralisedPropensity) -> tuple[float, ...]:
    """The weighted mean of the outcome at each value, in the order of ``score.values``, without a line through them."""
    y, _ = outcome_of(outcome, len(score.code))
    return tuple(
        float(np.average(y[score.code == at], weights=score.weights[score.code == at]))
        for at in range(len(score.values))
    )


def _projected(moving: FloatArray, score: GeneralisedPropensity) -> FloatArray:
    """What of each row's weighted score the estimated weights take up.

    With w = share / chance, the derivative of log w by the parameters of the chance is minus their score, so that they
    take up the regression of the weighted score on it; by a share it is 1 / share at that value, which adds.
    """
    shares = np.bincount(score.code, minlength=len(score.values)) / len(score.code)
    taken: FloatArray = score.scores @ np.linalg.lstsq(score.scores, moving, rcond=None)[0]
    each = score.code[:, None] == np.arange(len(shares))[None, :]
    by_share = (each.T @ moving) / (len(moving) * shares)[:, None]
    return np.asarray(taken - (each - shares) @ by_share, dtype=np.float64)


def _fit(y: FloatArray, x: FloatArray, score: GeneralisedPropensity, *, binary: bool) -> FloatArray:
    w = score.weights
    if not binary:
        return np.asarray(np.linalg.solve((x * w[:, None]).T @ x, x.T @ (w * y)), dtype=np.float64)
    share = float(np.average(y, weights=w))
    b: FloatArray = np.array([np.log(share / (1 - share)), 0.0], dtype=np.float64)
    for _ in range(MOST_STEPS):
        mean = 1 / (1 + np.exp(-np.clip(x @ b, -700, 700)))
        information = (x * (w * mean * (1 - mean))[:, None]).T @ x
        if not np.linalg.cond(information) < 1e14:
            break
        step = np.linalg.solve(information, x.T @ (w * (y - mean)))
        b = np.asarray(b + step * min(1.0, 5.0 / max(float(np.abs(step).max()), 1e-300)), dtype=np.float64)
        if np.abs(step).max() < NEAR * max(1.0, float(np.abs(b).max())):
            return b
    raise NotEstimable(
        "The outcome is separated by the exposure: below some value everybody, above it nobody has the outcome or the "
        "other way round, so that no odds ratio can be estimated. Show the weighted means at each value instead."
    )
