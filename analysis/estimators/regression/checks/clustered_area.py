"""The area under the curve when rows belong together: DeLong's variance with whole clusters as its unit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import FloatArray


@dataclass(frozen=True, kw_only=True)
class ClusteredArea:
    """estimate with limits on the logit, so that they stay within 0 and 1. reason: why there are none."""

    estimate: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    n: int
    events: int
    clusters: int
    level: float
    method: str = "DeLong, clustered (Obuchowski), limits on the logit"
    reason: str | None = None


def clustered_area(
    outcome: npt.ArrayLike, score: npt.ArrayLike, cluster: npt.ArrayLike, *, level: float = 0.95
) -> ClusteredArea:
    """The area with an error that allows for clusters, which may hold both outcomes.

    outcome: 0 or 1, shape (rows,). score: shape (rows,). cluster: labels, shape (rows,). Obuchowski NA, Biometrics
    1997;53:567-578: DeLong's components summed over each cluster. With a row a cluster it is DeLong's variance. No
    limits with fewer than two clusters of either outcome, or where every pair is in order.
    """
    from scipy.stats import rankdata

    z = normal_quantile(level=level)
    y, values = np.asarray(outcome, dtype=np.float64) > 0, np.asarray(score, dtype=np.float64)
    _, code = np.unique(np.asarray(cluster), return_inverse=True)
    clusters, n, events = int(code.max(initial=-1)) + 1, len(y), int(y.sum())

    def without(reason: str, estimate: float | None = None) -> ClusteredArea:
        return ClusteredArea(
            estimate=estimate,
            standard_error=None,
            low=None,
            high=None,
            n=n,
            events=events,
            clusters=clusters,
            level=level,
            reason=reason,
        )

    if not 0 < events < n:
        return without("one of the two outcomes does not occur")
    whole = rankdata(values)
    with_it = (whole[y] - rankdata(values[y])) / (n - events)
    others = 1 - (whole[~y] - rankdata(values[~y])) / events
    area = float(with_it.mean())
    a, b = _sums(code[y], with_it - area, clusters), _sums(code[~y], others - area, clusters)
    of_a, of_b = (len(np.unique(code[rows])) for rows in (y, ~y))
    if min(of_a, of_b) < 2:
        return without("fewer than two clusters have one of the outcomes", area)
    m, k = events, n - events
    variance = (
        of_a / (of_a - 1) * float(a @ a) / m**2
        + of_b / (of_b - 1) * float(b @ b) / k**2
        + 2 * clusters / (clusters - 1) * float(a @ b) / (m * k)
    )
    if variance <= 0 or not 0 < area < 1:
        return without("every pair is in the same order or tied, so that the variance says nothing", area)
    error = math.sqrt(variance)
    centre, half = math.log(area / (1 - area)), z * error / (area * (1 - area))
    low, high = (1 / (1 + math.exp(-(centre + sign * half))) for sign in (-1, 1))
    return ClusteredArea(
        estimate=area,
        standard_error=error,
        low=low,
        high=high,
        n=n,
        events=events,
        clusters=clusters,
        level=level,
    )


def _sums(code: npt.NDArray[np.int64], values: FloatArray, many: int) -> FloatArray:
    return np.asarray(np.bincount(code, weights=values, minlength=many), dtype=np.float64)
