"""Means of a whole cohort if all had one value, by a model of a mean: linear, or on the log."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analysis.estimators.regression.fitted import Fitted, FloatArray, limits_factor
from analysis.estimators.regression.standardised_risk import Standardised

LOG_MEANS = ("ratio of means", "rate ratio")


def standardised_means(
    fit: Fitted, matrices: Sequence[FloatArray], labels: Sequence[str], *, level: float = 0.95
) -> list[Standardised]:
    """The mean outcome of the cohort under each matrix, in the outcome's unit (per unit of exposure of a rate).

    fit: of `linear`, `poisson`, `negative_binomial` or `gamma_log`. matrices: of each the cohort coded as if all had
    one value, shape (rows, p). The covariates are taken as given (Lane PW, Nelder JA, Biometrics 1982;38:613-621);
    limits by the delta method, on the log of a mean that is modelled on the log. Raises ValueError for another fit.
    """
    factor, made = limits_factor(fit, level), []
    for x, label in zip(matrices, labels, strict=True):
        mean, gradient = _mean(fit, x)
        error = math.sqrt(max(float(gradient @ fit.covariance @ gradient), 0.0))
        if fit.exponentiated:
            low, high = (mean * math.exp(sign * factor * error / mean) for sign in (-1, 1))
        else:
            low, high = mean - factor * error, mean + factor * error
        made.append(_record(label, mean, low, high, error, len(x), level))
    return made


def standardised_mean_difference(
    fit: Fitted, index: FloatArray, comparator: FloatArray, *, level: float = 0.95
) -> Standardised:
    """Mean of the cohort under `index` minus that under `comparator`; as `standardised_means`."""
    (one, g1), (other, g0) = _mean(fit, index), _mean(fit, comparator)
    gradient = g1 - g0
    error = math.sqrt(max(float(gradient @ fit.covariance @ gradient), 0.0))
    half, gap = limits_factor(fit, level) * error, one - other
    return _record("difference of means", gap, gap - half, gap + half, error, len(index), level)


def _mean(fit: Fitted, x: FloatArray) -> tuple[float, FloatArray]:
    along = x @ fit.coefficients
    if fit.scale == "difference":
        return float(along.mean()), x.mean(axis=0)
    if fit.scale not in LOG_MEANS:
        raise ValueError(f"A mean cannot be read from a fit whose effects are a {fit.scale}.")
    mean = np.exp(along)
    return float(mean.mean()), np.asarray(mean @ x / len(x), dtype=np.float64)


def _record(label: str, estimate: float, low: float, high: float, error: float, n: int, level: float) -> Standardised:
    return Standardised(label=label, estimate=estimate, low=low, high=high, standard_error=error, n=n, level=level)
