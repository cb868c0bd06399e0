"""A proportion from several imputed data sets, pooled on the logit with the limits taken back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.estimators.proportions import FloatArray, proportion_interval
from analysis.estimators.rubin import pool

ON_LOGIT = "pooled on the logit by Rubin's rules"
AT_THE_MEAN = "Wilson at the mean of the imputations"


@dataclass(frozen=True)
class PooledProportion:
    """The pooled proportion; None, with the reason, where there is none. method: ON_LOGIT or AT_THE_MEAN."""

    estimate: float | None
    low: float | None
    high: float | None
    n: int
    df: float | None
    fraction_missing: float | None
    method: str
    level: float
    reason: str | None = None


def pooled_proportion(
    events: Sequence[float],
    n: int,
    *,
    design_effect: Sequence[float] | None = None,
    complete_df: float | None = None,
    at_the_mean: bool = False,
    level: float = 0.95,
) -> PooledProportion:
    """Pool events of n, one number of events an imputation.

    design_effect: by which each imputation's variance is multiplied (1 or more), for observations in clusters.
    complete_df: n - 1 unless told otherwise, clusters less 1 where they matter. On the logit: each imputation gives
    log(x / (n - x)) with variance deff (1/x + 1/(n - x)), pooled as in ``rubin.pool`` and taken back. If any has 0 or
    n events, or at_the_mean says so (that one threshold of several does, so that all are taken alike): the mean share
    with Wilson's interval at the size n_eff = min(n / deff, p (1 - p) / T), T the pooled variance of the share: what
    the imputations differ by widens it too. Raises ValueError for counts that cannot be, or level.
    """
    x = np.asarray(events, dtype=np.float64)
    deff = np.ones(len(x)) if design_effect is None else np.asarray(design_effect, dtype=np.float64)
    if n == 0:
        return PooledProportion(None, None, None, 0, None, None, ON_LOGIT, level, "nobody is in the group")
    if len(x) < 2 or (x < 0).any() or (x > n).any():
        raise ValueError(f"Each of 2 or more imputations must have 0 to {n} events, not {events}.")
    if at_the_mean or (x == 0).any() or (x == n).any():
        return _at_the_mean(x, n, deff, level)
    df = float(n - 1 if complete_df is None else complete_df)
    if not df > 0:
        why = "fewer than two clusters" if complete_df is not None else "fewer than two are in the group"
        return PooledProportion(float((x / n).mean()), None, None, n, None, None, ON_LOGIT, level, why)
    made = pool(np.log(x / (n - x)).tolist(), (deff * (1 / x + 1 / (n - x))).tolist(), df, level=level)
    low, high = _back(made.low), _back(made.high)
    # Taken there and back a share may have rounded past the imputations it comes from.
    estimate = float(np.clip(_back(made.estimate), x.min() / n, x.max() / n))
    return PooledProportion(
        estimate, min(low, estimate), max(high, estimate), n, made.df, made.fraction_missing, ON_LOGIT, level
    )


def _at_the_mean(x: FloatArray, n: int, deff: FloatArray, level: float) -> PooledProportion:
    share = x / n
    mean = float(share[0]) if (share == share[0]).all() else float(share.mean())
    size = n / float(deff.mean())
    if 0 < mean < 1 and len(set(share.tolist())) > 1:
        total = float((deff * share * (1 - share) / n).mean()) + (1 + 1 / len(x)) * float(share.var(ddof=1))
        size = min(size, mean * (1 - mean) / total)
    limits = proportion_interval(events=min(mean * size, size), n=size, level=level)
    return PooledProportion(mean, limits.low, limits.high, n, None, None, AT_THE_MEAN, level)


def _back(logit: float) -> float:
    return 1 / (1 + math.exp(-logit)) if logit > -700 else 0.0
