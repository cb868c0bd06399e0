"""A cumulative sum of what each case was beyond the mean, with the band that chance alone would give it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable

BY_CONSTRUCTION = (
    "A cumulative sum of deviations from its own mean starts and ends at zero by construction, so that it has a peak "
    "or a trough in any data, and the place of a peak is no number of cases needed to learn. Only a sum that leaves "
    "the band is more than the order of cases gives by chance."
)
BLOCK = 200


@dataclass(frozen=True, kw_only=True, eq=False)
class CumulativeSum:
    """total: after each case, in the unit of the values. low, high: a band that the whole sum stays within at `level`
    when the order of cases is by chance. furthest: the largest distance from zero that the sum has, in its place
    (case number) and its share of the band there. p: how often a random order strays as far. mean: of the values, or
    the target they are taken from.
    """

    total: FloatArray
    low: FloatArray
    high: FloatArray
    furthest_at: int
    furthest: float
    p: float
    mean: float
    n: int
    replicates: int
    seed: int
    level: float
    method: str = "permutation of the order of cases, simultaneous band"
    remark: str = BY_CONSTRUCTION


def cumulative_sum(
    values: npt.ArrayLike, *, level: float = 0.95, replicates: int = 2000, seed: int = 1
) -> CumulativeSum:
    """The sum C_k of the first k values less their mean, of one operator's cases in their order.

    values: minutes, or 0 and 1 for failure, shape (cases,), without gaps. By chance C_k has mean 0 and variance
    s^2 k (n - k) / (n - 1), s^2 the variance of the values; the band is that standard deviation times the `level`
    quantile, over `replicates` random orders, of the largest |C_k| in standard deviations. p counts the observed order
    among them. It asks whether early and late cases differ, whatever the reason: case mix and the times change too.

    Raises NotEstimable for fewer than 10 cases or values that are all alike; ValueError for missing values.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or not np.isfinite(x).all():
        raise ValueError("values must be a list of numbers, none missing.")
    n = len(x)
    if n < 10 or np.ptp(x) == 0:
        what = f"there are {n} cases, fewer than 10" if n < 10 else f"all {n} cases have the same value"
        raise NotEstimable(f"A cumulative sum tells nothing: {what}.")
    if not 0 < level < 1 or replicates < 100:
        raise ValueError("level lies between 0 and 1, and at least 100 replicates are needed.")
    left = x - x.mean()
    k = np.arange(1, n)
    spread = np.sqrt(x.var() * k * (n - k) / (n - 1))
    total = np.cumsum(left)
    total[-1] = 0.0  # but for rounding
    rng = np.random.default_rng(seed)
    largest = np.empty(replicates)
    for start in range(0, replicates, BLOCK):
        many = min(BLOCK, replicates - start)
        shuffled = rng.permuted(np.tile(left, (many, 1)), axis=1)
        largest[start : start + many] = (np.abs(np.cumsum(shuffled, axis=1)[:, :-1]) / spread).max(axis=1)
    seen = np.abs(total[:-1]) / spread
    factor = float(np.quantile(largest, level, method="higher"))
    band = np.append(factor * spread, 0.0)
    place = int(seen.argmax())
    return CumulativeSum(
        total=total,
        low=-band,
        high=band,
        furthest_at=place + 1,
        furthest=float(total[place]),
        p=float((1 + (largest >= seen[place] - 1e-12).sum()) / (1 + replicates)),
        mean=float(x.mean()),
        n=n,
        replicates=replicates,
        seed=seed,
        level=level,
    )
