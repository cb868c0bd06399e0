"""Two means and the influence of every row on each: their difference, ratio and odds ratio with limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import FloatArray, NotEstimable

Scale = Literal["difference", "ratio", "odds ratio"]


@dataclass(frozen=True, kw_only=True)
class Contrast:
    """estimate None, with the reason, where there is none. standard_error: on the log scale of a ratio."""

    scale: Scale
    estimate: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class Contrasts:
    """means: index group, the other, with standard errors. ratio, odds_ratio: of means of a yes/no outcome."""

    means: tuple[float, float]
    mean_errors: tuple[float, float]
    difference: Contrast
    ratio: Contrast
    odds_ratio: Contrast
    clusters: int | None
    level: float


def contrasts_of(
    means: tuple[float, float],
    influence: FloatArray,
    *,
    binary: bool,
    cluster: npt.ArrayLike | None = None,
    corrected: bool = False,
    level: float = 0.95,
) -> Contrasts:
    """From influences, shape (rows, 2), whose mean over rows is the error of the two means.

    Variance: sum over rows (clusters of rows, times G/(G-1)) of influence times influence, over n squared; corrected:
    times n/(n-1) without clusters. Ratios have their limits on the log scale, by the delta method; they are of a
    yes/no outcome with both means within 0 and 1.
    """
    z, n = normal_quantile(level=level), len(influence)
    sums, clusters, factor = influence, None, n / (n - 1) if corrected else 1.0
    if cluster is not None:
        _, code = np.unique(np.asarray(cluster), return_inverse=True)
        clusters = int(code.max()) + 1
        if clusters < 2:
            raise NotEstimable("There is one cluster, so that no error can be told. Leave the clustering out.")
        sums = np.column_stack([np.bincount(code, weights=column, minlength=clusters) for column in influence.T])
        factor = clusters / (clusters - 1)
    covariance = sums.T @ sums * factor / n**2
    one, other = means

    def error(gradient: tuple[float, float]) -> float:
        g = np.asarray(gradient)
        return math.sqrt(max(float(g @ covariance @ g), 0.0))

    plain = error((1.0, -1.0))
    difference = Contrast(
        scale="difference",
        estimate=one - other,
        low=one - other - z * plain,
        high=one - other + z * plain,
        standard_error=plain,
    )
    why = None
    if not binary:
        why = "the outcome is not yes or no"
    elif not (0 < one < 1 and 0 < other < 1):
        why = "a mean is not between 0 and 1"

    def ratio(scale: Scale, value: float, gradient: tuple[float, float]) -> Contrast:
        e = error(gradient)
        return Contrast(
            scale=scale, estimate=value, low=value * math.exp(-z * e), high=value * math.exp(z * e), standard_error=e
        )

    if why is not None:
        ratios = [
            Contrast(scale=scale, estimate=None, low=None, high=None, standard_error=None, reason=why)
            for scale in ("ratio", "odds ratio")
        ]
    else:
        ratios = [
            ratio("ratio", one / other, (1 / one, -1 / other)),
            ratio(
                "odds ratio",
                one / (1 - one) / (other / (1 - other)),
                (1 / (one * (1 - one)), -1 / (other * (1 - other))),
            ),
        ]
    return Contrasts(
        means=means,
        mean_errors=(error((1.0, 0.0)), error((0.0, 1.0))),
        difference=difference,
        ratio=ratios[0],
        odds_ratio=ratios[1],
        clusters=clusters,
        level=level,
    )


def outcome_of(outcome: npt.ArrayLike, n: int) -> tuple[FloatArray, bool]:
    """The outcome as numbers, and whether it is yes or no. Raises ValueError for gaps, NotEstimable when all alike."""
    y = np.asarray(outcome, dtype=np.float64)
    if y.shape != (n,) or not np.isfinite(y).all():
        raise ValueError(f"outcome must hold {n:,} numbers, none missing or infinite.")
    if y.min() == y.max():
        raise NotEstimable(
            f"No effect on the outcome can be estimated: all {n:,} rows have the same outcome, {y[0]:g}. Ask of other "
            "rows or another outcome."
        )
    return y, bool(np.isin(y, (0.0, 1.0)).all())
