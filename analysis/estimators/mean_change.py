"""Mean of paired differences with the plain interval and the one that allows for clusters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True)
class MeanChange:
    """A mean with its limits; None where there are fewer than two values (clustered: two clusters)."""

    estimate: float | None
    low: float | None
    high: float | None
    low_clustered: float | None
    high_clustered: float | None
    n: int
    clusters: int
    level: float
    method: str = "t"


def mean_change(*, values: npt.NDArray[np.float64], cluster: npt.NDArray[np.int64], level: float = 0.95) -> MeanChange:
    """Mean of differences.

    values: one difference a row, none missing. cluster: whole codes, patients as a rule, of equal length.

    Plain: mean +/- t(n-1) s / sqrt(n). Clustered: with k clusters and e_i the sum of the residuals of cluster i, the
    variance is k/(k-1) sum e_i^2 / n^2 and t has k - 1 degrees of freedom; that of a regression on a constant with
    cluster-robust errors (Liang KY, Zeger SL, Biometrika 1986;73:13-22). One value a cluster gives the plain interval.
    Raises ValueError for missing values or unequal lengths.
    """
    if len(values) != len(cluster) or not np.isfinite(values).all():
        raise ValueError("values must be numbers, one a row, with one cluster code each; leave missing rows out.")
    n = len(values)
    _, code = np.unique(cluster, return_inverse=True)
    clusters = int(code.max(initial=-1)) + 1
    if n == 0:
        return MeanChange(None, None, None, None, None, 0, 0, level)
    mean = float(values.mean())
    plain = _half_width(float(((values - mean) ** 2).sum()), n, n, level)
    sums = np.bincount(code, weights=values - mean, minlength=clusters)
    wide = _half_width(float((sums**2).sum()), n, clusters, level)
    return MeanChange(
        estimate=mean,
        low=None if plain is None else mean - plain,
        high=None if plain is None else mean + plain,
        low_clustered=None if wide is None else mean - wide,
        high_clustered=None if wide is None else mean + wide,
        n=n,
        clusters=clusters,
        level=level,
    )


def _half_width(squares: float, n: int, clusters: int, level: float) -> float | None:
    from scipy.stats import t  # slow to load: only for who asks

    if clusters < 2:
        return None
    error = np.sqrt(clusters / (clusters - 1) * squares) / n
    return float(t.ppf((1 + level) / 2, clusters - 1) * error)
