"""Percentile intervals by resampling whole clusters (patients), for effects crude, pooled and standardised.

All nine effects are read off the same resamples, so they may be set side by side.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile
from analysis.estimators.two_groups import Measure

METHOD = "cluster bootstrap, percentile"
CELLS_AT_ONCE = 4_000_000


@dataclass(frozen=True)
class BootstrapInterval:
    """Percentile limits of one effect; not_estimable counts the resamples in which it had no finite value."""

    measure: Measure
    low: float | None
    high: float | None
    replicates: int
    not_estimable: int
    method: str
    level: float
    reason: str | None = None


@dataclass(frozen=True)
class BootstrapEffects:
    """The intervals of the three contrasts by one way of comparing."""

    difference: BootstrapInterval
    ratio: BootstrapInterval
    odds_ratio: BootstrapInterval


@dataclass(frozen=True)
class BootstrapResult:
    """Intervals for each way of comparing, with what made them."""

    crude: BootstrapEffects
    mantel_haenszel: BootstrapEffects
    standardised: BootstrapEffects
    clusters: int
    replicates: int
    seed: int
    level: float


def bootstrap_effects(
    *,
    outcome: npt.ArrayLike,
    index: npt.ArrayLike,
    cluster: npt.ArrayLike,
    stratum: npt.ArrayLike | None = None,
    seed: int,
    replicates: int = 2000,
    level: float = 0.95,
) -> BootstrapResult:
    """Intervals for the difference, ratio and odds ratio, index minus or over comparator.

    All arrays have shape (rows,), one row an observation of either group. outcome: 0/1 or bool. index: True
    or 1 in the index group, False or 0 in the comparator. cluster, stratum: whole codes or words, none
    missing; a cluster may lie in both groups and in several strata, and is drawn with all its rows. Without
    stratum there is one stratum.

    As many clusters as there are, are drawn with replacement, `replicates` times; each resample gives the
    crude effect, the Mantel-Haenszel one and the one standardised to the resample's own stratum mix, by the
    formulas of ``two_groups`` and ``strata`` (strata lacking a group say nothing there). The limits are the
    (1 -+ level)/2 quantiles at position (m + 1) p, interpolated. A resample whose ratio is infinite stands
    above all others; one with 0/0 is left out; both are counted in not_estimable. A limit that falls on an
    infinite value, fewer than two clusters, or resamples that all give one value: None with the reason. The
    same seed gives the same numbers whatever the order of rows or the codes of clusters.

    Efron B, Tibshirani RJ, An Introduction to the Bootstrap, Chapman & Hall 1993, chapter 13 (percentile);
    Davison AC, Hinkley DV, Bootstrap Methods and their Application, Cambridge 1997, sections 3.8 (clusters)
    and 5.2 (position). Raises ValueError for arrays of unequal length, values other than 0 and 1, fewer than
    one replicate, or level.
    """
    normal_quantile(level=level)
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    y, in_index = _binary(outcome, "outcome"), _binary(index, "index")
    strata = np.zeros(len(y), dtype=np.int64) if stratum is None else _labels(stratum, "stratum")
    clusters = _labels(cluster, "cluster")
    if {y.shape, in_index.shape, strata.shape, clusters.shape} != {(len(y),)}:
        raise ValueError("outcome, index, cluster and stratum must have one entry a row each; their lengths differ.")
    counts = _cluster_counts(y, in_index, strata, clusters)
    size = len(counts)
    ways: list[FloatArray] = []
    if size >= 2:
        parts = [_all_effects(drawn) for drawn in _resampled(counts, replicates, seed)]
        ways = list(np.concatenate(parts, axis=2))
    crude, pooled, standard = (_three(ways[way] if ways else None, replicates, level) for way in range(3))
    return BootstrapResult(crude, pooled, standard, size, replicates, seed, level)


def _cluster_counts(
    y: FloatArray, in_index: FloatArray, strata: npt.NDArray[np.generic], clusters: npt.NDArray[np.generic]
) -> FloatArray:
    """Events and n of each cluster, shape (clusters, 2 counts, 2 groups, strata); the index group first."""
    strata_names, k = np.unique(strata, return_inverse=True)
    cluster_names, row = np.unique(clusters, return_inverse=True)
    shape = (len(cluster_names), 2, len(strata_names))
    cell = np.ravel_multi_index((row, (1 - in_index).astype(np.int64), k), shape) if len(y) else k
    length = math.prod(shape)
    events = np.bincount(cell, weights=y, minlength=length).reshape(shape)
    n = np.bincount(cell, minlength=length).astype(np.float64).reshape(shape)
    return np.stack([events, n], axis=1)


def _resampled(counts: FloatArray, replicates: int, seed: int) -> Iterator[FloatArray]:
    """Totals of each resample, shape (replicates of this chunk, 2, 2, strata).

    Clusters with the same counts are interchangeable, so it is enough to draw how many of each kind there
    are: a multinomial over the distinct kinds, which is exactly the drawing of clusters one by one.
    """
    flat = counts.reshape(len(counts), -1)
    kinds, how_many = np.unique(flat, axis=0, return_counts=True)
    generator = np.random.Generator(np.random.PCG64(seed))
    at_once = max(1, CELLS_AT_ONCE // (len(kinds) + kinds.shape[1]))
    for start in range(0, replicates, at_once):
        here = min(at_once, replicates - start)
        drawn = generator.multinomial(len(flat), how_many / len(flat), size=here)
        yield (drawn.astype(np.float64) @ kinds).reshape(here, *counts.shape[1:])


def _all_effects(drawn: FloatArray) -> FloatArray:
    """Shape (3 ways, 3 measures, replicates): crude, Mantel-Haenszel, standardised; not finite if none."""
    (a, b), (n1, n0) = (drawn[:, 0, group] for group in (0, 1)), (drawn[:, 1, group] for group in (0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        crude = _from_rates(*((x.sum(axis=1)) for x in (a, n1 - a, n1, b, n0 - b, n0)))

        both = (n1 > 0) & (n0 > 0)
        a, b, n1, n0 = (np.where(both, x, 0.0) for x in (a, b, n1, n0))
        n = n1 + n0
        share = np.where(both, 1.0 / n, 0.0)

        def total(x: FloatArray) -> FloatArray:
            return np.asarray((x * share).sum(axis=1), dtype=np.float64)

        pooled = np.stack(
            [
                total(a * n0 - b * n1) / total(n1 * n0),
                total(a * n0) / total(b * n1),
                total(a * (n0 - b)) / total(b * (n1 - a)),
            ]
        )

        def rate(events: FloatArray, of: FloatArray) -> FloatArray:
            return np.asarray(np.where(both, n * events / of, 0.0).sum(axis=1), dtype=np.float64)

        mix = n.sum(axis=1)
        standard = _from_rates(rate(a, n1), rate(n1 - a, n1), mix, rate(b, n0), rate(n0 - b, n0), mix)
    return np.stack([crude, pooled, standard])


def _from_rates(
    x1: FloatArray, y1: FloatArray, n1: FloatArray, x0: FloatArray, y0: FloatArray, n0: FloatArray
) -> FloatArray:
    return np.stack([x1 / n1 - x0 / n0, (x1 / n1) / (x0 / n0), (x1 * y0) / (x0 * y1)])


def _three(values: FloatArray | None, replicates: int, level: float) -> BootstrapEffects:
    measures: tuple[Measure, Measure, Measure] = ("difference", "ratio", "odds_ratio")
    if values is None:
        return BootstrapEffects(
            *(
                BootstrapInterval(m, None, None, replicates, replicates, METHOD, level, "fewer than two clusters")
                for m in measures
            )
        )
    return BootstrapEffects(*(_interval(m, v, level) for m, v in zip(measures, values, strict=True)))


def _interval(measure: Measure, values: FloatArray, level: float) -> BootstrapInterval:
    lost = int((~np.isfinite(values)).sum())
    ordered = np.sort(values[~np.isnan(values)])
    low, high = (_at(ordered, (1.0 + sign * level) / 2.0) for sign in (-1, 1))
    reason = None
    if lost == len(values):
        reason = "no resample has a finite value"
    elif ordered[0] == ordered[-1]:
        low = high = None
        reason = "every resample gives the same value"
    elif low is None or high is None:
        reason = "too many resamples have an infinite value"
    return BootstrapInterval(measure, low, high, len(values), lost, METHOD, level, reason)


def _at(ordered: FloatArray, p: float) -> float | None:
    """The quantile at position (m + 1) p of m ordered values, kept between the ends; None if infinite."""
    m = len(ordered)
    if m == 0:
        return None
    position = min(max((m + 1) * p, 1.0), float(m))
    below = int(position)
    left, right = float(ordered[below - 1]), float(ordered[min(below, m - 1)])
    share = position - below
    value = left if share == 0 else left + share * (right - left) if math.isfinite(right) else math.inf
    return value if math.isfinite(value) else None


def _binary(values: npt.ArrayLike, name: str) -> FloatArray:
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.ndim != 1 or not np.isin(numbers, (0.0, 1.0)).all():
        raise ValueError(f"{name} must be one 0 or 1 a row; leave rows where it is missing out beforehand.")
    return numbers


def _labels(values: npt.ArrayLike, name: str) -> npt.NDArray[np.generic]:
    labels = np.asarray(values)
    if labels.dtype.kind == "f" and np.isnan(labels).any():
        raise ValueError(f"{name} is missing in some rows; give missing its own code beforehand.")
    return labels
