"""How many have had each of several events by a time, when one event rules the others out: Aalen and Johansen.

lifelines breaks ties between causes at random, and statsmodels divides by 0 where the last have an event, so that the
estimator is written here; it counts by time, and ties are no difficulty in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import FloatArray
from analysis.estimators.survival.follow_up import Causes, IntArray, causes
from analysis.estimators.survival.influence import coded_clusters

MOST_EMPTY = 8
"""Whole times up to so many for each row are counted without sorting."""


@dataclass(frozen=True, kw_only=True)
class IncidenceAt:
    """Cumulative incidence of a cause by a time; None with the reason beyond the last time with somebody at risk."""

    cause: int
    time: float
    at_risk: int
    estimate: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Incidence:
    """Cumulative incidences.

    time: 0 and every time that occurs, rising. at_risk: just before each. causes: the numbers, rising. events: shape
    (causes, times). incidence, standard_error, low, high: shape (causes, times). survival: without any event. n: rows;
    totals: events of each cause.
    """

    time: FloatArray
    at_risk: IntArray
    causes: tuple[int, ...]
    events: IntArray
    incidence: FloatArray
    standard_error: FloatArray
    low: FloatArray
    high: FloatArray
    survival: FloatArray
    n: int
    totals: tuple[int, ...]
    level: float
    method: str = "Aalen-Johansen, infinitesimal-jackknife error, log(-log) limits"

    @property
    def last(self) -> float:
        """The last time at which somebody was at risk."""
        return float(self.time[-1])


def cumulative_incidence(
    time: npt.ArrayLike, cause: npt.ArrayLike, *, level: float = 0.95, entry: npt.ArrayLike | None = None
) -> Incidence:
    """Cumulative incidence of every cause that occurs.

    Arguments and refusals as `follow_up.causes`. Events at a time happen before anybody leaves at it. Aalen OO,
    Johansen S, Scand J Stat 1978;5:141-150. With S before s, n at risk, d events of all causes, d_k of cause k, the
    variance of F_k(t) sums over s: (F_k(t) - F_k(s))^2 d/(n (n - d)) + S^2 d_k (n - d_k)/n^3
    - 2 (F_k(t) - F_k(s)) S d_k/n^2, which is the infinitesimal jackknife (the error of R's survfit; that of cmprsk
    differs by a few thousandths). Limits: F to the power exp(-+ z se / (F log F)).
    """
    data = causes(time, cause, entry=entry)
    z = normal_quantile(level=level)
    times, counts = _counted(data)
    found = np.flatnonzero(counts[1:].any(axis=1)) + 1
    leave = counts.sum(axis=0)
    at_risk = data.n - np.concatenate([[0], np.cumsum(leave)[:-1]])
    d = leave - counts[0]
    n = at_risk.astype(np.float64)
    survival = np.cumprod(1 - d / n)
    before = np.concatenate([[1.0], survival[:-1]]) / n  # S before each time, for one at risk
    left = n * (n - d)
    spread = np.divide(d, left, out=np.zeros(len(n)), where=left > 0)
    incidence, error = np.zeros((len(found), len(n))), np.zeros((len(found), len(n)))
    shared = np.cumsum(spread)
    for row, number in enumerate(found):
        own = counts[number]
        step = before * own
        f = np.cumsum(step)
        incidence[row] = f
        step /= n
        variance = f * f * shared - 2 * f * np.cumsum(f * spread + step)
        variance += np.cumsum(f * f * spread + 2 * f * step + before * before * own * (1 - own / n))
        error[row] = np.sqrt(np.maximum(variance, 0.0))
    low, high = _limits(incidence, error, z)
    return Incidence(
        time=np.concatenate([[0.0], times]),
        at_risk=np.concatenate([[data.n], at_risk]).astype(np.int64),
        causes=tuple(int(one) for one in found),
        events=_from_nought(counts[found]).astype(np.int64),
        incidence=_from_nought(incidence),
        standard_error=_from_nought(error),
        low=np.hstack([np.full((len(found), 1), np.nan), low]),
        high=np.hstack([np.full((len(found), 1), np.nan), high]),
        survival=np.concatenate([[1.0], survival]),
        n=data.n,
        totals=tuple(int(counts[one].sum()) for one in found),
        level=level,
    )


def _from_nought(rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.hstack([np.zeros((len(rows), 1)), rows])


def _counted(data: Causes) -> tuple[FloatArray, IntArray]:
    """Distinct times, and how many of each cause (0 first) at each, shape (causes + 1, times)."""
    many, top = int(data.cause.max()) + 1, data.time.max()
    if top <= MOST_EMPTY * data.n:
        whole = data.time.astype(np.int64)
        if np.array_equal(whole, data.time):
            size = int(top) + 1
            table = np.bincount(data.cause * size + whole, minlength=many * size).reshape(many, size)
            on = table.any(axis=0)
            return np.flatnonzero(on).astype(np.float64), table[:, on]
    times, place = np.unique(data.time, return_inverse=True)
    size = len(times)
    return times, np.bincount(data.cause * size + place, minlength=many * size).reshape(many, size)


def _limits(f: FloatArray, error: FloatArray, z: float) -> tuple[FloatArray, FloatArray]:
    low, high = np.full_like(f, np.nan), np.full_like(f, np.nan)
    on = (f > 0) & (f < 1 - 1e-12)
    spread = z * error[on] / (f[on] * np.log(f[on]))  # below 0
    low[on], high[on] = f[on] ** np.exp(-spread), f[on] ** np.exp(spread)
    return low, high


def incidence_at(curve: Incidence, cause: int, times: Sequence[float]) -> list[IncidenceAt]:
    """Cumulative incidence of one cause at times, in the order asked. Raises ValueError for a cause that is none."""
    if cause not in curve.causes:
        raise ValueError(f"Cause {cause} does not occur; those that do are {', '.join(map(str, curve.causes))}.")
    row = curve.causes.index(cause)
    made = []
    for time in times:
        risk_at = int(np.searchsorted(curve.time, time, side="left"))
        risk = int(curve.at_risk[risk_at]) if risk_at < len(curve.time) else 0
        if not 0 <= time <= curve.last:
            said = f"nobody is at risk after {curve.last:g}" if time > 0 else "before the origin"
            made.append(_nothing(cause, time, said))
            continue
        at = int(np.searchsorted(curve.time, time, side="right")) - 1
        known = not np.isnan(curve.low[row, at])
        said = "no event of this cause yet" if curve.incidence[row, at] == 0 else "everybody had it"
        made.append(
            IncidenceAt(
                cause=cause,
                time=time,
                at_risk=risk,
                estimate=float(curve.incidence[row, at]),
                standard_error=float(curve.standard_error[row, at]) if known else None,
                low=float(curve.low[row, at]) if known else None,
                high=float(curve.high[row, at]) if known else None,
                reason=None if known else f"{said}, so that there are no limits",
            )
        )
    return made


def _nothing(cause: int, time: float, said: str) -> IncidenceAt:
    return IncidenceAt(
        cause=cause, time=time, at_risk=0, estimate=None, standard_error=None, low=None, high=None, reason=said
    )


def clustered_incidence_error(
    time: npt.ArrayLike, cause: npt.ArrayLike, cluster: npt.ArrayLike, *, of: int, at: float
) -> float:
    """The standard error of one cumulative incidence when rows of a cluster (a patient) go together.

    of: the cause; at: the time. Each row's influence is the sum over s up to `at` of S dM_k/n - (F(at) - F(s)) dM /
    (n - d), with the martingale steps dM of all causes and dM_k of the one; they are summed within clusters, then
    squared and summed. With a row a cluster it is the error of `cumulative_incidence`.
    """
    data = causes(time, cause)
    code, many = coded_clusters(np.asarray(cluster), data.n)
    curve = cumulative_incidence(time, cause)
    (row,) = np.flatnonzero(np.array(curve.causes) == of)
    on = curve.time[1:] <= at
    f, n = curve.incidence[row, 1:][on], curve.at_risk[1:][on].astype(np.float64)
    d, own = curve.events[:, 1:][:, on].sum(axis=0), curve.events[row, 1:][on]
    before = curve.survival[:-1][on] / n
    gap = (f[-1] if len(f) else 0.0) - f
    share = np.divide(gap, n - d, out=np.zeros(len(n)), where=n > d)
    drift = np.concatenate([[0.0], np.cumsum(before * own / n - share * d / n)])
    place = np.searchsorted(curve.time[1:], data.time)
    known = place < len(n)
    last = np.minimum(place + 1, len(n))
    value = -drift[last]
    here = np.minimum(place, max(len(n) - 1, 0))
    if len(n):
        value += known * (before[here] * (data.cause == of) - share[here] * (data.cause > 0))
    return float(np.sqrt(np.square(np.bincount(code, weights=value, minlength=many)).sum()))
