"""One sum over another, costs over successes for example, with limits that allow for clusters (patients)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile

BOOTSTRAP = "cluster bootstrap, percentile"
FIELLER = "Fieller, between clusters"
CELLS_AT_ONCE = 4_000_000
TOO_FEW = "fewer than two clusters"
NO_EFFECT = "the sum below the line is 0"


@dataclass(frozen=True)
class Limits:
    """Two limits, each None where there is none; then reason says why."""

    low: float | None
    high: float | None
    method: str
    reason: str | None = None


@dataclass(frozen=True)
class RatioOfSums:
    """estimate: over / under, None where under is 0. n: rows; clusters: of them. bootstrap, fieller: its limits."""

    estimate: float | None
    over: float
    under: float
    n: int
    clusters: int
    bootstrap: Limits
    fieller: Limits
    level: float
    replicates: int
    seed: int
    reason: str | None = None


def ratio_of_sums(
    over: npt.ArrayLike,
    under: npt.ArrayLike,
    cluster: npt.ArrayLike,
    *,
    seed: int = 1,
    replicates: int = 2000,
    level: float = 0.95,
) -> RatioOfSums:
    """The sum of `over` by the sum of `under`, with a bootstrap and a Fieller interval.

    over, under: numbers, shape (rows,), none missing. cluster: codes or words, shape (rows,); a cluster is drawn with
    all its rows, and its totals are what Fieller's limits take for independent.

    Bootstrap: as many clusters as there are are drawn with replacement; limits are the quantiles (1 -+ level)/2 at
    position (m + 1) p of the m ratios; a resample whose lower sum is 0 stands above all others. Efron B, Tibshirani
    RJ, An Introduction to the Bootstrap, Chapman & Hall 1993, chapter 13; Davison AC, Hinkley DV, Bootstrap Methods
    and their Application, Cambridge 1997, sections 3.8 and 5.2. Fieller: see `fieller_limits`. The same seed gives
    the same numbers whatever the order of rows.

    Raises ValueError for a missing value, unequal lengths, replicates or level.
    """
    normal_quantile(level=level)
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    sums, n = cluster_sums(np.column_stack([_numbers(over, "over"), _numbers(under, "under")]), cluster)
    total, count = (float(each) for each in sums.sum(axis=0)) if n else (0.0, 0.0)
    nobody = "nobody is in the group" if not n else None
    reason = nobody or (NO_EFFECT if count == 0 else None)
    if reason is not None or len(sums) < 2:
        why = reason or TOO_FEW
        drawn, exact = Limits(None, None, BOOTSTRAP, why), Limits(None, None, FIELLER, why)
    else:
        totals = resampled(sums, replicates, seed)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratios = np.where(totals[:, 1] == 0, np.inf, totals[:, 0] / totals[:, 1])
        drawn, exact = percentile_limits(ratios, level=level), fieller_limits(sums[:, 0], sums[:, 1], level=level)
    return RatioOfSums(
        estimate=None if reason else total / count,
        over=total,
        under=count,
        n=n,
        clusters=len(sums),
        bootstrap=drawn,
        fieller=exact,
        level=level,
        replicates=replicates,
        seed=seed,
        reason=reason,
    )


def fieller_limits(over: npt.ArrayLike, under: npt.ArrayLike, *, level: float = 0.95) -> Limits:
    """Limits of mean(over) / mean(under) of independent pairs, which need not be symmetric.

    All r for which the mean of over - r under does not differ from 0 by a t test with k - 1 degrees of freedom; with
    means a, b, their variances v_a, v_b, covariance c and t, the roots of

        (b^2 - t^2 v_b) r^2 - 2 (a b - t^2 c) r + (a^2 - t^2 v_a) = 0.

    Fieller EC, J R Stat Soc B 1954;16:175-185 (from memory). There are none when b does not differ from 0 at the
    level (the set then reaches to infinity), when there are fewer than two pairs, or when nothing varies.
    """
    from scipy.stats import t as student

    a, b = _numbers(over, "over"), _numbers(under, "under")
    k = len(a)
    if k < 2:
        return Limits(None, None, FIELLER, TOO_FEW)
    v_a, v_b, c = _variances(a, b)
    if v_a == 0 and v_b == 0:
        return Limits(None, None, FIELLER, "nothing varies between clusters")
    squared = float(student.ppf((1 + level) / 2, k - 1)) ** 2
    mean_a, mean_b = float(a.mean()), float(b.mean())
    leading = mean_b**2 - squared * v_b
    if leading <= 0:
        return Limits(None, None, FIELLER, "what is below the line does not differ from 0 clearly enough")
    middle = mean_a * mean_b - squared * c
    # Never negative when the leading term is above 0, but for rounding.
    root = math.sqrt(max(0.0, middle**2 - leading * (mean_a**2 - squared * v_a)))
    return Limits((middle - root) / leading, (middle + root) / leading, FIELLER)


def percentile_limits(values: FloatArray, *, level: float) -> Limits:
    """The quantiles (1 -+ level)/2 at position (m + 1) p of resampled values; None for one that is infinite."""
    ordered = np.sort(values[~np.isnan(values)])
    if not len(ordered):
        return Limits(None, None, BOOTSTRAP, "no resample has a value")
    if ordered[0] == ordered[-1]:
        return Limits(None, None, BOOTSTRAP, "every resample gives the same value")
    low, high = (_quantile(ordered, (1 + sign * level) / 2) for sign in (-1, 1))
    reason = None if low is not None and high is not None else "too many resamples have an infinite value"
    return Limits(low, high, BOOTSTRAP, reason)


def cluster_sums(values: FloatArray, cluster: npt.ArrayLike) -> tuple[FloatArray, int]:
    """Sums of each cluster, shape (clusters, columns), in an order that hangs on the sums alone; and the rows."""
    names = np.asarray(cluster)
    if names.shape != values.shape[:1]:
        raise ValueError("The values and cluster must have one entry a row each; their lengths differ.")
    if names.dtype.kind == "f" and np.isnan(names).any():
        raise ValueError("cluster is missing in some rows; give missing its own code beforehand.")
    codes = np.unique(names, return_inverse=True)[1].ravel()
    many = int(codes.max(initial=-1)) + 1
    # Rounded so that the order of adding up cannot change the order of clusters.
    sums = np.zeros((many, values.shape[1]))
    for place, each in enumerate(values.T):
        sums[:, place] = np.round(np.bincount(codes, weights=each, minlength=many), 9)
    return sums[np.lexsort(sums.T[::-1])], len(names)


def resampled(sums: FloatArray, replicates: int, seed: int) -> FloatArray:
    """Totals of each resample: as many rows as there are, drawn with replacement and added; (replicates, columns)."""
    generator = np.random.Generator(np.random.PCG64(seed))
    rows, columns = sums.shape
    at_once = max(1, CELLS_AT_ONCE // (rows * columns))
    parts = []
    for start in range(0, replicates, at_once):
        drawn = generator.integers(rows, size=(min(at_once, replicates - start), rows))
        parts.append(sums[drawn].sum(axis=1))
    return np.concatenate(parts)


def _variances(a: FloatArray, b: FloatArray) -> tuple[float, float, float]:
    """Variances and covariance of the two means."""
    spread = np.cov(a, b, ddof=1) / len(a)
    return float(spread[0, 0]), float(spread[1, 1]), float(spread[0, 1])


def _quantile(ordered: FloatArray, p: float) -> float | None:
    position = min(max((len(ordered) + 1) * p, 1.0), float(len(ordered)))
    below = int(position)
    left, right = float(ordered[below - 1]), float(ordered[min(below, len(ordered) - 1)])
    share = position - below
    if share == 0 or left == right:
        return left if math.isfinite(left) else None
    return left + share * (right - left) if math.isfinite(left) and math.isfinite(right) else None


def _numbers(values: npt.ArrayLike, name: str) -> FloatArray:
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.ndim != 1 or not np.isfinite(numbers).all():
        raise ValueError(f"{name} must be one number a row, none missing; leave such rows out beforehand.")
    return numbers
