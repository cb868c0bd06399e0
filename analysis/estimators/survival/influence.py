"""What each cluster adds to an estimate over time: the infinitesimal jackknife, summed within clusters.

For rows that are not independent (two kidneys of one patient). Of one row at each time s the martingale step is
dM = 1(event at s) - 1(at risk at s) d(s) / n(s).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.survival.follow_up import FollowUp, IntArray

CELLS = 4_000_000
"""Of paths (a row by a time) so many are held at once."""


def clustered_survival_error(
    data: FollowUp,
    times: FloatArray,
    survival: FloatArray,
    at_risk: IntArray,
    died: IntArray,
    cluster: npt.NDArray[Any],
) -> tuple[FloatArray, int]:
    """The standard error of a Kaplan-Meier curve at each of its times, and how many clusters there are.

    S times the root of the sum over clusters of (sum of dM / (n - d) up to the time)^2, which for clusters of one row
    each is Greenwood's. Ying Z, Wei LJ, J Multivar Anal 1994;50:17-29 (consistency when rows of a cluster go together).
    """
    code, many = coded_clusters(cluster, data.n)
    left = at_risk - died
    safe = np.maximum(at_risk * left, 1)
    drift = np.cumsum(np.where(left > 0, died / safe, 0.0))
    own = np.searchsorted(times, data.time)
    gain = np.where(left > 0, 1 / np.maximum(left, 1), 0.0)[own] * data.event
    total = np.empty(len(times))
    block = max(1, CELLS // data.n)
    for start in range(0, len(times), block):
        at = np.arange(start, min(start + block, len(times)))
        path = np.where(own[None, :] <= at[:, None], gain[None, :], 0.0)
        path = path - drift[np.minimum(own[None, :], at[:, None])]
        total[at] = [np.square(np.bincount(code, weights=row, minlength=many)).sum() for row in path]
    error = survival * np.sqrt(total)
    error[survival <= 0] = np.nan
    return error, many


def coded_clusters(cluster: npt.NDArray[Any], rows: int) -> tuple[IntArray, int]:
    """Clusters as whole numbers from 0, and how many. Raises NotEstimable with fewer than two."""
    if cluster.shape != (rows,):
        raise ValueError(f"cluster must have one entry a row, {rows}, not the shape {cluster.shape}.")
    names, code = np.unique(cluster, return_inverse=True)
    if len(names) < 2:
        raise NotEstimable("There is one cluster, so that no error can be told. Leave the clustering out.")
    return code.astype(np.int64), len(names)
