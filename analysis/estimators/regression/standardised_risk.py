"""Risks of a whole cohort if all had one value: standardisation over the cohort, with intervals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.estimators.regression.fitted import Fitted, FloatArray, limits_factor


@dataclass(frozen=True, kw_only=True)
class Standardised:
    """A risk, or a contrast of two, over the cohort; standard_error on the log scale of a ratio."""

    label: str
    estimate: float
    low: float
    high: float
    standard_error: float
    n: int
    level: float
    method: str = "standardisation over the cohort, delta method"


def standardised_risks(
    fit: Fitted, matrices: Sequence[FloatArray], labels: Sequence[str], *, level: float = 0.95
) -> list[Standardised]:
    """The mean chance of the cohort under each matrix, limits on the log-odds scale so that they stay within 0 and 1.

    fit: a logistic model. matrices: of each the cohort coded as if all had one value, shape (rows, p). The cohort's
    covariates are taken as given (Lane PW, Nelder JA, Biometrics 1982;38:613-621); standard error by the delta method
    from the fit's covariance: with m = mean of p_i, its gradient is the mean of p_i (1 - p_i) x_i.
    """
    factor = limits_factor(fit, level)
    found = []
    for x, label in zip(matrices, labels, strict=True):
        risk, gradient = _risk(fit, x)
        error = math.sqrt(max(float(gradient @ fit.covariance @ gradient), 0.0))
        spread = error / (risk * (1 - risk)) if 0 < risk < 1 else 0.0
        centre = np.log(risk / (1 - risk)) if 0 < risk < 1 else 0.0
        low, high = (1 / (1 + np.exp(-(centre + sign * factor * spread))) for sign in (-1, 1))
        found.append(
            Standardised(
                label=label,
                estimate=risk,
                low=float(low) if 0 < risk < 1 else risk,
                high=float(high) if 0 < risk < 1 else risk,
                standard_error=error,
                n=len(x),
                level=level,
            )
        )
    return found


def standardised_contrasts(
    fit: Fitted, index: FloatArray, comparator: FloatArray, *, level: float = 0.95
) -> dict[str, Standardised]:
    """Index against comparator over the cohort: `difference`, `ratio` and `odds_ratio` of the two standardised risks.

    index, comparator: the cohort coded under each value, shape (rows, p). Ratios have their limits on the log scale.
    """
    (p1, g1), (p0, g0) = _risk(fit, index), _risk(fit, comparator)
    factor, v = limits_factor(fit, level), fit.covariance

    def error(gradient: FloatArray) -> float:
        return math.sqrt(max(float(gradient @ v @ gradient), 0.0))

    def ratio(label: str, value: float, gradient: FloatArray) -> Standardised:
        e = error(gradient)
        return Standardised(
            label=label,
            estimate=value,
            low=float(value * np.exp(-factor * e)),
            high=float(value * np.exp(factor * e)),
            standard_error=e,
            n=len(index),
            level=level,
        )

    difference = error(g1 - g0)
    return {
        "difference": Standardised(
            label="risk difference",
            estimate=p1 - p0,
            low=p1 - p0 - factor * difference,
            high=p1 - p0 + factor * difference,
            standard_error=difference,
            n=len(index),
            level=level,
        ),
        "ratio": ratio("risk ratio", p1 / p0, g1 / p1 - g0 / p0),
        "odds_ratio": ratio(
            "odds ratio of the standardised risks",
            p1 / (1 - p1) / (p0 / (1 - p0)),
            g1 / (p1 * (1 - p1)) - g0 / (p0 * (1 - p0)),
        ),
    }


def _risk(fit: Fitted, x: FloatArray) -> tuple[float, FloatArray]:
    chance = 1 / (1 + np.exp(-(x @ fit.coefficients)))
    gradient: FloatArray = (chance * (1 - chance)) @ x / len(x)
    return float(chance.mean()), gradient
