"""Whether groups differ in time to an event: the log-rank test, weighted and stratified."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.survival.follow_up import follow_up


@dataclass(frozen=True, kw_only=True)
class LogRank:
    """Chi-squared on `df`. groups: their names; n, observed, expected: of each, unweighted, summed over strata."""

    statistic: float
    df: int
    p: float
    groups: tuple[str, ...]
    n: tuple[int, ...]
    observed: tuple[int, ...]
    expected: tuple[float, ...]
    strata: int
    method: str
    remarks: tuple[str, ...] = (
        "Rows are taken as independent; where one patient has several, compare by the Cox model with clusters.",
    )


def log_rank(
    time: npt.ArrayLike,
    event: npt.ArrayLike,
    group: npt.ArrayLike,
    *,
    strata: npt.ArrayLike | None = None,
    rho: float = 0.0,
) -> LogRank:
    """Compare groups.

    time, event: as `follow_up`. group, strata: any labels, shape (rows,). rho: weight each time by the pooled survival
    just before it to this power; 0 is the log-rank test, 1 weighs early times more (Peto and Peto's modification of
    Gehan's and Wilcoxon's test).

    Mantel N, Cancer Chemother Rep 1966;50:163-170; Harrington DP, Fleming TR, Biometrika 1982;69:553-566 (statsmodels).
    Raises NotEstimable for fewer than two groups, no event, or a group that is at risk at no event.
    """
    from scipy import stats
    from statsmodels.duration.survfunc import survdiff

    data = follow_up(time, event)
    if rho < 0:
        raise ValueError(f"rho is {rho}; it must be 0 or above.")
    names, of = np.unique(np.asarray(group).astype(str), return_inverse=True)
    layer = np.zeros(data.n, dtype=np.int64)
    if strata is not None:
        layer = np.unique(np.asarray(strata).astype(str), return_inverse=True)[1].astype(np.int64)
    if of.shape != data.time.shape or layer.shape != data.time.shape:
        raise ValueError("time, group and strata must be lists of equal length.")
    if len(names) < 2 or not data.event.any():
        what = f"there is one group, {names[0]}" if len(names) < 2 else "nobody had the event"
        raise NotEstimable(f"Groups cannot be compared: {what}. Ask of other rows, or group by another column.")
    expected = np.zeros(len(names))
    for at in np.unique(layer):
        on = layer == at
        expected += _expected(data.time[on], data.event[on].astype(np.float64), of[on], len(names))
    empty = [name for name, one in zip(names.tolist(), expected, strict=True) if one <= 0]
    if empty:
        raise NotEstimable(
            f"Groups cannot be compared: nobody of {', '.join(empty)} is at risk when an event happens. Leave the "
            "group out, or join it with another."
        )
    weight = {} if rho == 0 else {"weight_type": "fh", "fh_p": rho}
    layers = None if strata is None else layer
    try:
        found, _ = survdiff(data.time, data.event.astype(np.int64), of, strata=layers, **weight)
    except np.linalg.LinAlgError:
        found = np.nan
    if not np.isfinite(found):
        raise NotEstimable(
            "Groups cannot be compared: whenever an event happens everybody at risk has it, or only one group is at "
            "risk, so that chance has no play. Ask of other rows."
        )
    observed = np.bincount(of, weights=data.event, minlength=len(names)).astype(int)
    said = "log-rank test" if rho == 0 else f"weighted log-rank test, survival to the power {rho:g}"
    many = len(np.unique(layer))
    return LogRank(
        statistic=float(found),
        df=len(names) - 1,
        p=float(stats.chi2.sf(found, len(names) - 1)),
        groups=tuple(names.tolist()),
        n=tuple(np.bincount(of, minlength=len(names)).tolist()),
        observed=tuple(observed.tolist()),
        expected=tuple(expected.tolist()),
        strata=many,
        method=said + (f", within {many} strata" if strata is not None else ""),
    )


def _expected(time: FloatArray, event: FloatArray, of: npt.NDArray[np.int64], groups: int) -> FloatArray:
    """Events of each group if all had the same hazard: over event times, at risk in the group / at risk x events."""
    times, place = np.unique(time, return_inverse=True)
    died = np.bincount(place, weights=event, minlength=len(times))
    left = np.zeros((groups, len(times)))
    np.add.at(left, (of, place), 1.0)
    risk = left[:, ::-1].cumsum(axis=1)[:, ::-1]
    return np.asarray((risk / risk.sum(axis=0) * died).sum(axis=1), dtype=np.float64)
