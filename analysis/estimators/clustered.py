"""Intervals for a proportion whose observations come in clusters (the two sides of one patient).

The rate is the plain one, events over observations; only its uncertainty knows of the clusters.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, checked_counts, normal_quantile, wilson_limits

IntArray = npt.NDArray[np.int64]
METHOD = "wilson at the effective size"


@dataclass(frozen=True)
class ClusteredInterval:
    """Limits at the effective size, with what made it; None where it is unknown (fewer than two clusters)."""

    low: float | None
    high: float | None
    method: str
    level: float
    clusters: int
    design_effect: float | None
    n_effective: float | None


@dataclass(frozen=True, eq=False)
class ClusteredIntervals:
    """One entry a group, in the order of the group codes; NaN where None would stand in a single result."""

    events: FloatArray
    n: FloatArray
    clusters: IntArray
    design_effect: FloatArray
    n_effective: FloatArray
    low: FloatArray
    high: FloatArray
    method: str
    level: float


def clustered_interval(
    *, events_per_cluster: npt.ArrayLike, n_per_cluster: npt.ArrayLike, level: float = 0.95
) -> ClusteredInterval:
    """Interval for one proportion, from the counts of each cluster.

    events_per_cluster, n_per_cluster: one-dimensional, one entry a cluster, of equal length; a cluster
    without observations does not count as one.

    With k clusters of m_i observations and rates p_i, n = sum m_i and p the plain rate,

        V = k/(k-1) sum (m_i/n)^2 (p_i - p)^2,    deff = max(1, V / (p (1-p) / (n-1))),

    and the interval is Wilson's at n / deff. V is the ratio estimator's between-cluster variance (Cochran WG,
    Sampling Techniques, 3rd ed., Wiley 1977, chapter 3); dividing counts by the design effect is Rao JNK,
    Scott AJ, Biometrics 1992;48:577-585, and Wilson's interval at that effective size Dean N, Pagano M, J
    Surv Stat Methodol 2015;3:484-503. One observation a cluster gives exactly the plain Wilson interval. A
    rate of 0 or 1 shows no variance: the effective size is then k, the most cautious. Fewer than two
    clusters: limits of None. Raises ValueError for impossible counts, fractions, unequal lengths, or level.
    """
    events, n = np.asarray(events_per_cluster), np.asarray(n_per_cluster)
    if events.ndim != 1 or events.shape != n.shape:
        raise ValueError(
            "events_per_cluster and n_per_cluster must be lists of equal length, one entry a cluster; "
            f"their shapes are {events.shape} and {n.shape}."
        )
    checked_events, checked_n = checked_counts(events=events, n=n, where=" of a cluster")
    if (checked_events % 1 != 0).any() or (checked_n % 1 != 0).any():
        raise ValueError("The counts of a cluster must be whole numbers; observations are counted, not weighted.")
    only_group = np.zeros(len(checked_n), dtype=np.int64)
    many = intervals_from_counts(events=checked_events, n=checked_n, group=only_group, groups=1, level=level)

    def value(of: FloatArray) -> float | None:
        return None if np.isnan(of[0]) else float(of[0])

    return ClusteredInterval(
        low=value(many.low),
        high=value(many.high),
        method=METHOD,
        level=level,
        clusters=int(many.clusters[0]),
        design_effect=value(many.design_effect),
        n_effective=value(many.n_effective),
    )


def clustered_intervals(
    *,
    outcome: npt.ArrayLike,
    group: npt.ArrayLike,
    cluster: npt.ArrayLike,
    groups: int,
    level: float = 0.95,
) -> ClusteredIntervals:
    """The same interval for many groups at once, from one row an observation.

    outcome: 0/1 or bool, shape (rows,). group: whole codes 0 to groups - 1, shape (rows,); a group without
    rows gives NaN limits. cluster: whole codes from 0, shape (rows,); a cluster may have rows in several
    groups and is one cluster in each. groups: how many groups there are. Formula and source as in
    ``clustered_interval``. Raises ValueError for unequal lengths, an outcome other than 0 or 1, or a code out
    of its range.
    """
    y, groups_of_rows = _binary(outcome), _codes(group, "group")
    clusters_of_rows = _codes(cluster, "cluster")
    if not len(y) == len(groups_of_rows) == len(clusters_of_rows):
        raise ValueError(
            "outcome, group and cluster must have one entry a row each; they have "
            f"{len(y)}, {len(groups_of_rows)} and {len(clusters_of_rows)}."
        )
    if len(y) and groups_of_rows.max() >= groups:
        raise ValueError(f"A group code is {groups_of_rows.max()}, but {groups} groups have codes 0 to {groups - 1}.")
    labels, dense = np.unique(clusters_of_rows, return_inverse=True)  # large codes must not overflow the pair code
    width = max(1, len(labels))
    pairs, pair_of_row = np.unique(groups_of_rows * width + dense, return_inverse=True)
    n = np.bincount(pair_of_row, minlength=len(pairs)).astype(np.float64)
    events: FloatArray = np.bincount(pair_of_row, weights=y, minlength=len(pairs)).astype(np.float64)
    return intervals_from_counts(events=events, n=n, group=pairs // width, groups=groups, level=level)


def intervals_from_counts(
    *, events: FloatArray, n: FloatArray, group: IntArray, groups: int, level: float = 0.95
) -> ClusteredIntervals:
    """The same intervals from the counts of each cluster in each group, for who has counted already.

    events, n, group: shape (pairs,), one entry for each pair of a group and a cluster, in any order: events and
    observations of that cluster in that group, and the code of the group. A pair without observations does not
    count as a cluster. The counts are taken as they are, unchecked. Raises ValueError for the level.
    """
    normal_quantile(level=level)
    total_n: FloatArray = np.bincount(group, weights=n, minlength=groups).astype(np.float64)
    total_events: FloatArray = np.bincount(group, weights=events, minlength=groups).astype(np.float64)
    k = np.bincount(group[n > 0], minlength=groups).astype(np.int64)
    rate = np.divide(total_events, total_n, out=np.full(groups, np.nan), where=total_n > 0)

    # (m_i/n)(p_i - p) is (x_i - m_i p)/n: no division by the size of a cluster
    residual = np.where(n > 0, events - n * np.nan_to_num(rate)[group], 0.0)
    squares = np.bincount(group, weights=residual**2, minlength=groups)
    mixed = (k >= 2) & (total_events > 0) & (total_events < total_n)
    variance = np.zeros(groups)
    variance[mixed] = k[mixed] / (k[mixed] - 1.0) * squares[mixed] / total_n[mixed] ** 2
    simple = np.ones(groups)
    simple[mixed] = rate[mixed] * (1 - rate[mixed]) / (total_n[mixed] - 1)

    deff = np.maximum(1.0, variance / simple)
    deff[k == total_n] = 1.0  # one observation a cluster: 1 but for rounding
    uniform = (k >= 2) & ~mixed
    deff[uniform] = total_n[uniform] / k[uniform]
    deff[k < 2] = np.nan
    n_effective = total_n / deff
    n_effective[uniform] = k[uniform]
    events_effective = np.where(total_events == total_n, n_effective, total_events / deff)

    known = k >= 2
    limits = wilson_limits(
        events=np.where(known, events_effective, 0.0), n=np.where(known, n_effective, 0.0), level=level
    )
    return ClusteredIntervals(
        events=total_events,
        n=total_n,
        clusters=k,
        design_effect=deff,
        n_effective=n_effective,
        low=limits.low,
        high=limits.high,
        method=METHOD,
        level=level,
    )


def _binary(outcome: npt.ArrayLike) -> FloatArray:
    y = np.asarray(outcome, dtype=np.float64)
    if y.ndim != 1 or not np.isin(y, (0.0, 1.0)).all():
        raise ValueError("outcome must be one 0 or 1 a row; leave rows without a known outcome out beforehand.")
    return y


def _codes(values: npt.ArrayLike, name: str) -> IntArray:
    codes = np.asarray(values)
    if codes.size == 0:
        codes = codes.astype(np.int64)
    if codes.ndim != 1 or codes.dtype.kind not in "iu" or (codes < 0).any():
        raise ValueError(f"{name} must be one whole number from 0 a row; give missing its own code beforehand.")
    return codes.astype(np.int64)
