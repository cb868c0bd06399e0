"""Interval of a proportion seen through several tests that err, each corrected for itself and weighted by its share."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile

METHOD = "Rogan-Gladen by test, weighted by its share; cluster bootstrap, percentile"


@dataclass(frozen=True)
class ErringTest:
    """A test: its sensitivity and specificity, and on how many each was measured; None counts as known."""

    sensitivity: float
    specificity: float
    n_sensitivity: int | None = None
    n_specificity: int | None = None


@dataclass(frozen=True)
class Mixed:
    """Percentile limits of the corrected proportion, cut to 0 and 1; None with the reason."""

    low: float | None
    high: float | None
    replicates: int
    reason: str | None = None


def mixed_correction(
    *,
    positive: npt.NDArray[np.bool_],
    test: npt.NDArray[np.int64],
    cluster: npt.NDArray[np.int64],
    tests: Sequence[ErringTest],
    seed: int,
    replicates: int = 2000,
    level: float = 0.95,
) -> Mixed:
    """Limits of sum over tests of share times corrected proportion.

    positive, test, cluster: shape (rows,), one row an observation: what its test says, which of `tests` it is, and
    codes of clusters (patients). Whole clusters are drawn with replacement; a sensitivity or specificity that was
    measured on a sample is drawn too, as a study of its size might have found it. A resample in which a test would be
    no better than chance is left out. The limits are the (1 -+ level)/2 quantiles at position (m + 1) p. Rogan WJ,
    Gladen B, Am J Epidemiol 1978;107:71-76; Davison AC, Hinkley DV, Bootstrap Methods and their Application, Cambridge
    1997, sections 3.8 and 5.2. Raises ValueError for level.
    """
    normal_quantile(level=level)
    _, code = np.unique(cluster, return_inverse=True)
    clusters = int(code.max(initial=-1)) + 1
    if clusters < 2:
        return Mixed(None, None, replicates, "fewer than two patients")
    counts = np.zeros((clusters, 2, len(tests)))
    for place in range(len(tests)):
        of = test == place
        counts[:, 0, place] = np.bincount(code[of & positive], minlength=clusters)
        counts[:, 1, place] = np.bincount(code[of], minlength=clusters)
    rng = np.random.default_rng(seed)
    se = _drawn(rng, [one.sensitivity for one in tests], [one.n_sensitivity for one in tests], replicates)
    sp = _drawn(rng, [one.specificity for one in tests], [one.n_specificity for one in tests], replicates)
    drawn = _resampled(rng, counts.reshape(clusters, -1), replicates).reshape(replicates, 2, len(tests))
    seen, n = drawn[:, 0], drawn[:, 1]
    youden = se + sp - 1
    # A test weighs by its n, so that n cancels: (events - n (1 - sp)) / J is what it adds.
    usable = np.where(youden > 0, youden, np.nan)
    parts = np.where(n > 0, (seen - n * (1 - sp)) / usable, 0.0)
    share = parts.sum(axis=1) / n.sum(axis=1)
    ordered = np.sort(np.clip(share[np.isfinite(share)], 0.0, 1.0))
    if len(ordered) < 2 or ordered[0] == ordered[-1]:
        return Mixed(None, None, replicates, "every resample gives one value")
    tail = (1 - level) / 2
    return Mixed(_at(ordered, tail), _at(ordered, 1 - tail), replicates)


def _drawn(rng: np.random.Generator, values: list[float], sizes: list[int | None], replicates: int) -> FloatArray:
    """A share as a study of its size might have found it, shape (replicates, shares); a known one stays."""
    made = np.empty((replicates, len(values)))
    for place, (value, size) in enumerate(zip(values, sizes, strict=True)):
        made[:, place] = value if size is None else rng.binomial(size, value, replicates) / size
    return made


def _resampled(rng: np.random.Generator, counts: FloatArray, replicates: int) -> FloatArray:
    """Counts of resamples of patients, shape (replicates, columns), a few at a time to spare memory."""
    patients = len(counts)
    at_once = max(1, 4_000_000 // patients)
    made = []
    for start in range(0, replicates, at_once):
        size = min(at_once, replicates - start)
        drawn = rng.integers(0, patients, (size, patients)) + patients * np.arange(size)[:, None]
        weights = np.bincount(drawn.ravel(), minlength=size * patients).reshape(size, patients)
        made.append(weights.astype(np.float64) @ counts)
    return np.concatenate(made)


def _at(ordered: FloatArray, share: float) -> float:
    """The quantile at position (m + 1) share, as the other resampled intervals have it."""
    place = min(max((len(ordered) + 1) * share, 1.0), float(len(ordered))) - 1
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))
