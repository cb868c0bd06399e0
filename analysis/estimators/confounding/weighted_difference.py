"""The weighted comparison of two groups, with errors that know that the score was estimated."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.confounding.balance_weights import Weights
from analysis.estimators.confounding.contrasts import Contrasts, contrasts_of, outcome_of
from analysis.estimators.confounding.propensity import Propensity
from analysis.estimators.regression.fitted import FloatArray, NotEstimable

LEAST_EFFECTIVE = 5.0
"""Effective rows of a group below which no comparison is given: a limit of ours."""
METHOD = "weighted means of each group (Hajek), stacked estimating equations with those of the score"


@dataclass(frozen=True, kw_only=True)
class WeightedDifference:
    """contrasts: means, difference and ratios. error_scores_known: of the difference, if scores were not estimated
    (HC0); the difference between the two is what estimating them is worth. unnormalised: the difference by
    Horvitz and Thompson, of ate weights alone.
    """

    contrasts: Contrasts
    n: tuple[int, int]
    events: tuple[int, int] | None
    effective: tuple[float, float]
    weights: str
    error_scores_known: float
    unnormalised: float | None
    method: str = METHOD


def weighted_difference(
    outcome: npt.ArrayLike,
    score: Propensity,
    weights: Weights,
    *,
    cluster: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> WeightedDifference:
    """Weighted mean of the index group less that of the other.

    outcome: shape (rows of score,), yes/no as 1/0 or a number, without gaps. cluster: shape (rows,); influences are
    then summed within clusters, times G/(G-1).

    Error: the estimating equations of the score's coefficients and of both means, taken together (Lunceford JK,
    Davidian M, Stat Med 2004;23:2937-2960; Stefanski LA, Boos DD, Am Stat 2002;56:29-38, from memory). Weights that
    were cut are taken to stay where they were cut, and the share in stabilised weights cancels.
    Raises NotEstimable when the outcome does not vary or a group's effective size is below 5; ValueError for gaps.
    """
    y, binary = outcome_of(outcome, len(score.index))
    for size, who in zip(weights.effective, ("index", "other"), strict=True):
        if size < LEAST_EFFECTIVE:
            raise NotEstimable(
                f"After weighting, the {who} group is worth {size:.1f} rows (effective size), and at least "
                f"{LEAST_EFFECTIVE:g} are needed: a few rows would decide. Trim the scores, cut the weights, or ask of "
                "the overlap (weights `overlap`)."
            )
    one = score.index
    means, known, aware = [], [], []
    for of in (one, ~one):
        mean = float(np.average(y[of], weights=weights.values[of]))
        left = np.where(of, y - mean, 0.0)
        bread = float(weights.values[of].sum()) / len(y)
        own = weights.values * left
        means.append(mean)
        known.append(own / bread)
        aware.append((own + _of_score(score, weights.slopes * left)) / bread)
    pair = (means[0], means[1])
    plain = contrasts_of(pair, np.column_stack(known), binary=binary, level=level)
    unnormalised = None
    if weights.kind == "ate" and weights.clip is None:
        unnormalised = float((weights.values * y * np.where(one, 1.0, -1.0)).mean())
    return WeightedDifference(
        contrasts=contrasts_of(pair, np.column_stack(aware), binary=binary, cluster=cluster, level=level),
        n=(int(one.sum()), int((~one).sum())),
        events=(int(y[one].sum()), int(y[~one].sum())) if binary else None,
        effective=weights.effective,
        weights=weights.kind,
        error_scores_known=plain.difference.standard_error or math.nan,
        unnormalised=unnormalised,
    )


def _of_score(score: Propensity, moved: FloatArray) -> FloatArray:
    """What each row adds through the coefficients of the score. moved: derivative of its own term by its log odds."""
    x, e = score.x, score.scores
    information = (x * (e * (1 - e))[:, None]).T @ x
    made: FloatArray = (score.index - e) * (x @ np.linalg.solve(information, x.T @ moved))
    return made
