"""A mean with a percentile interval by resampling whole clusters (patients)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile

METHOD = "cluster bootstrap, percentile"


@dataclass(frozen=True)
class ClusteredMean:
    """estimate: the plain mean; low and high: percentile limits; None where there is none, with the reason."""

    estimate: float | None
    low: float | None
    high: float | None
    n: int
    clusters: int
    method: str
    level: float
    reason: str | None = None


def clustered_mean(
    values: npt.ArrayLike, cluster: npt.ArrayLike, *, seed: int = 1, replicates: int = 2000, level: float = 0.95
) -> ClusteredMean:
    """The mean of one value a row, its limits from resampling clusters with replacement.

    values: numbers, shape (rows,), none missing. cluster: codes or words, shape (rows,). As many clusters as there are
    are drawn `replicates` times, each with all its rows; limits are the quantiles (1 -+ level)/2 at position (m + 1) p
    of the m means. Efron B, Tibshirani RJ, An Introduction to the Bootstrap, Chapman & Hall 1993, chapter 13; Davison
    AC, Hinkley DV, Bootstrap Methods and their Application, Cambridge 1997, sections 3.8 and 5.2. The same seed gives
    the same numbers whatever the order of rows. Fewer than two clusters, or resamples that all give one mean: no
    limits, with the reason. Raises ValueError for a missing value, unequal lengths, replicates or level.
    """
    normal_quantile(level=level)
    x = np.asarray(values, dtype=np.float64)
    codes = np.unique(np.asarray(cluster), return_inverse=True)[1].ravel()
    if x.shape != codes.shape or not np.isfinite(x).all():
        raise ValueError("values and cluster must have one entry a row each, and no value may be missing.")
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    many = int(codes.max(initial=-1)) + 1

    def made(low: float | None, high: float | None, reason: str | None) -> ClusteredMean:
        return ClusteredMean(float(x.mean()) if len(x) else None, low, high, len(x), many, METHOD, level, reason)

    if many < 2:
        return made(None, None, "fewer than two clusters" if len(x) else "nobody is in the group")
    sums = np.round(np.bincount(codes, weights=x, minlength=many), 9)
    kinds, how_many = np.unique(np.column_stack([sums, np.bincount(codes, minlength=many)]), axis=0, return_counts=True)
    if len(kinds) == 1:
        return made(None, None, "every resample gives the same value")
    # Clusters alike in sum and size are interchangeable: it is enough to draw how many of each kind there are.
    generator = np.random.Generator(np.random.PCG64(seed))
    drawn = generator.multinomial(many, how_many / many, size=replicates).astype(np.float64) @ kinds
    tail = (1.0 - level) / 2.0
    low, high = np.quantile(drawn[:, 0] / drawn[:, 1], [tail, 1.0 - tail], method="weibull")
    return made(float(low), float(high), None)
