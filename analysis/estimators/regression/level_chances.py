"""The chances of ordered levels by a fitted ordered model: of each row, and of a cohort if all had one value."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from analysis.estimators.regression.cumulative import Cumulative
from analysis.estimators.regression.fitted import Fitted, FloatArray, limits_factor
from analysis.estimators.regression.ordered_levels import without_intercept
from analysis.estimators.regression.standardised_risk import Standardised


def level_chances(fit: Fitted, x: FloatArray, names: Sequence[str]) -> FloatArray:
    """The chance of every level in every row, shape (rows, levels of the fit).

    x: shape (rows, p), the intercept first, coded as the fit's rows were; names: of its columns. fit: of
    `proportional_odds` or `partial_odds`.
    """
    below = _model(fit, x, names).below(fit.coefficients)
    ends = np.zeros((len(below), 1)), np.ones((len(below), 1))
    return np.asarray(np.diff(np.hstack([ends[0], below, ends[1]]), axis=1), dtype=np.float64)


def standardised_levels(
    fit: Fitted, x: FloatArray, names: Sequence[str], *, level: float = 0.95
) -> tuple[Standardised, ...]:
    """The chance of lying at or above each level but the lowest, averaged over the cohort in x, labelled by the cut.

    x: the cohort coded as if all had one value. Limits on the log-odds scale by the delta method, the covariates taken
    as given (Lane PW, Nelder JA, Biometrics 1982;38:613-621).
    """
    model, factor = _model(fit, x, names), limits_factor(fit, level)
    above = 1 - model.below(fit.coefficients)
    made = []
    for cut, words in enumerate(fit.extra["cuts"]):
        p = above[:, cut]
        gradient = -(p * (1 - p)) @ model.towards(np.full(len(x), cut)) / len(x)
        risk, error = float(p.mean()), math.sqrt(max(float(gradient @ fit.covariance @ gradient), 0.0))
        low = high = risk
        if 0 < risk < 1:
            centre, half = math.log(risk / (1 - risk)), factor * error / (risk * (1 - risk))
            low, high = (1 / (1 + math.exp(-(centre + sign * half))) for sign in (-1, 1))
        made.append(
            Standardised(label=words, estimate=risk, low=low, high=high, standard_error=error, n=len(x), level=level)
        )
    return tuple(made)


def _model(fit: Fitted, x: FloatArray, names: Sequence[str]) -> Cumulative:
    columns = without_intercept(x)
    free = np.array([name in fit.extra["free"] for name in names[1:]], dtype=bool)
    unsaid = np.zeros(len(columns), dtype=np.int64)
    return Cumulative(unsaid, columns[:, ~free], columns[:, free], len(fit.extra["cuts"]))
