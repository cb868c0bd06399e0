"""Whether yes/no outcomes of one cluster are more alike than the model says, and what that does to the errors.

A yes/no outcome of independent rows cannot scatter more than its chance lets it; only rows that belong together can.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray

TEST = "score test of likeness within clusters"
NO_PAIRS = "no cluster has two rows: yes/no outcomes of independent rows cannot be overdispersed"


@dataclass(frozen=True, kw_only=True)
class WithinClusters:
    """correlation: mean product of Pearson residuals of two rows of one cluster. statistic (standard normal), p: that
    there is none (two-sided). ratio: clusters' squared sums of residuals over what independence gives, 1 if none.
    design_effects: of the coefficients asked for, the cluster-robust variance over the model's own."""

    correlation: float | None
    statistic: float | None
    p: float | None
    ratio: float | None
    pairs: int
    clusters: int
    design_effects: tuple[float, ...]
    test: str = TEST
    reason: str | None = None


def within_clusters(
    fit: Fitted, outcome: npt.ArrayLike, x: FloatArray, cluster: npt.ArrayLike, *, places: Sequence[int] = ()
) -> WithinClusters:
    """Overdispersion of a logistic fit by clusters.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p). cluster: shape (rows,). places: of the coefficients whose
    design effect is wanted. The statistic is the sum over pairs of one cluster of (y_i - p_i)(y_j - p_j), over the
    root of the sum of p_i (1 - p_i) p_j (1 - p_j): pairs are uncorrelated when rows are independent (score tests of
    this form: Commenges D, Jacqmin-Gadda H, J R Stat Soc B 1997;59:157-171 [from memory]); that the chances are
    estimated is not allowed for, which leaves it a little cautious.
    """
    y = np.asarray(outcome, dtype=np.float64)
    _, code = np.unique(np.asarray(cluster), return_inverse=True)
    many = int(code.max()) + 1
    chance = np.asarray(1 / (1 + np.exp(-np.clip(x @ fit.coefficients, -700, 700))), dtype=np.float64)
    weight = chance * (1 - chance)
    left = y - chance
    bread: FloatArray = np.asarray(np.linalg.inv((x * weight[:, None]).T @ x), dtype=np.float64)
    robust, _ = cluster_covariance(bread=bread, scores=x * left[:, None], cluster=code)
    own = tuple(float(robust[at, at] / bread[at, at]) for at in places)
    sizes = np.bincount(code)
    pairs = int((sizes * (sizes - 1) // 2).sum())
    if not pairs:
        return WithinClusters(
            correlation=None,
            statistic=None,
            p=None,
            ratio=None,
            pairs=0,
            clusters=many,
            design_effects=own,
            reason=NO_PAIRS,
        )
    total, spread = (_pairs(code, values) for values in (left, weight))
    statistic = total / math.sqrt(spread) if spread > 0 else 0.0
    sums = np.bincount(code, weights=left) ** 2
    return WithinClusters(
        correlation=_pairs(code, left / np.sqrt(weight)) / pairs,
        statistic=statistic,
        p=math.erfc(abs(statistic) / math.sqrt(2)),
        ratio=float(sums.sum() / weight.sum()),
        pairs=pairs,
        clusters=many,
        design_effects=own,
    )


def _pairs(code: npt.NDArray[np.int64], values: FloatArray) -> float:
    """The sum over pairs of rows of one cluster of the product of their values."""
    sums, squares = np.bincount(code, weights=values), np.bincount(code, weights=values**2)
    return float((sums**2 - squares).sum() / 2)
