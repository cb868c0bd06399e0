"""The share still without the event over time, by Kaplan and Meier, with its limits, medians and numbers at risk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import FloatArray
from analysis.estimators.survival.follow_up import FollowUp, IntArray, follow_up
from analysis.estimators.survival.influence import clustered_survival_error

Band = Literal["loglog", "log", "plain"]
BANDS: dict[Band, str] = {
    "loglog": "log(-log) limits, from Greenwood's formula",
    "log": "limits on the log scale, from Greenwood's formula, cut at 1",
    "plain": "plain limits, from Greenwood's formula, cut at 0 and 1",
}
TOUCH = 1.5e-8
"""A curve this near to a share touches it."""


@dataclass(frozen=True, kw_only=True)
class AtTime:
    """The curve at a time; None with the reason beyond the last time with somebody at risk. at_risk: just before it."""

    time: float
    at_risk: int
    survival: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class TimeTo:
    """The time by which a share has had the event, with limits; None where the curve, or a limit, stays above."""

    share: float
    estimate: float | None
    low: float | None
    high: float | None
    level: float
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class SurvivalCurve:
    """A Kaplan-Meier curve.

    time: 0 and every time at which somebody had the event or left, rising. at_risk: just before each. events, censored:
    at each. survival, standard_error, low, high: from each time on; limits are NaN before the first event and where
    nobody is left without it. n, n_events: in all. method: in words. clusters: when the error allows for them.
    """

    time: FloatArray
    at_risk: IntArray
    events: IntArray
    censored: IntArray
    survival: FloatArray
    standard_error: FloatArray
    low: FloatArray
    high: FloatArray
    n: int
    n_events: int
    level: float
    method: str
    clusters: int | None = None

    @property
    def last(self) -> float:
        """The last time at which somebody was at risk."""
        return float(self.time[-1])


def kaplan_meier(
    time: npt.ArrayLike,
    event: npt.ArrayLike,
    *,
    level: float = 0.95,
    band: Band = "loglog",
    cluster: npt.ArrayLike | None = None,
    entry: npt.ArrayLike | None = None,
) -> SurvivalCurve:
    """The curve. Arguments and refusals as `follow_up`; band: how limits are made; cluster: shape (rows,).

    Kaplan EL, Meier P, J Am Stat Assoc 1958;53:457-481 (lifelines); standard error by Greenwood's formula, S^2 times
    the sum of d / (n (n - d)); limits as in Kalbfleisch JD, Prentice RL, The Statistical Analysis of Failure Time Data,
    2nd ed., Wiley 2002, section 1.4. With clusters the error is the infinitesimal jackknife summed within clusters.
    """
    from lifelines import KaplanMeierFitter

    data = follow_up(time, event, entry=entry)
    z = normal_quantile(level=level)
    fitter = KaplanMeierFitter().fit(data.time, data.event)
    table = fitter.event_table
    at_risk = np.asarray(table["at_risk"], dtype=np.int64)
    died = np.asarray(table["observed"], dtype=np.int64)
    survival = np.asarray(fitter.survival_function_.iloc[:, 0], dtype=np.float64)
    times = np.asarray(table.index, dtype=np.float64)
    clusters = None
    if cluster is None:
        error = survival * np.sqrt(np.cumsum(_greenwood(at_risk, died)))
        error[survival <= 0] = np.nan
    else:
        error, clusters = clustered_survival_error(data, times, survival, at_risk, died, np.asarray(cluster))
    low, high = limits(survival, error, z, band)
    said = BANDS[band] if cluster is None else BANDS[band].replace("Greenwood's formula", "errors summed in clusters")
    return SurvivalCurve(
        time=times,
        at_risk=at_risk,
        events=died,
        censored=np.asarray(table["censored"], dtype=np.int64),
        survival=survival,
        standard_error=error,
        low=low,
        high=high,
        n=data.n,
        n_events=int(data.event.sum()),
        level=level,
        method=f"Kaplan-Meier, {said}",
        clusters=clusters,
    )


def _greenwood(at_risk: IntArray, died: IntArray) -> FloatArray:
    left = at_risk * (at_risk - died)
    return np.where(left > 0, died / np.maximum(left, 1), 0.0)


def limits(survival: FloatArray, error: FloatArray, z: float, band: Band) -> tuple[FloatArray, FloatArray]:
    """Limits of a curve; NaN before the first event, and where survival or its error is not known."""
    low, high = np.full_like(survival, np.nan), np.full_like(survival, np.nan)
    on = (survival > 0) & (survival < 1) & np.isfinite(error)
    s, e = survival[on], error[on]
    if band == "plain":
        low[on], high[on] = np.maximum(s - z * e, 0.0), np.minimum(s + z * e, 1.0)
    elif band == "log":
        low[on], high[on] = s * np.exp(-z * e / s), np.minimum(s * np.exp(z * e / s), 1.0)
    else:
        spread = z * e / (s * np.log(s))  # below 0
        low[on], high[on] = s ** np.exp(-spread), s ** np.exp(spread)
    return low, high


def survival_at(curve: SurvivalCurve, times: Sequence[float]) -> list[AtTime]:
    """The curve and the number at risk at times, in the order asked."""
    made = []
    for time in times:
        risk = at_risk_at(curve, time)
        if time > curve.last or time < 0:
            said = f"nobody is at risk after {curve.last:g}" if time > 0 else "before the origin"
            made.append(
                AtTime(time=time, at_risk=0, survival=None, standard_error=None, low=None, high=None, reason=said)
            )
            continue
        at = int(np.searchsorted(curve.time, time, side="right")) - 1
        error, low, high = (_or_none(float(column[at])) for column in (curve.standard_error, curve.low, curve.high))
        made.append(
            AtTime(
                time=time,
                at_risk=risk,
                survival=float(curve.survival[at]),
                standard_error=error,
                low=low,
                high=high,
                reason=None if low is not None else _why(curve, at),
            )
        )
    return made


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value


def _why(curve: SurvivalCurve, at: int) -> str:
    return (
        "no event yet, so that there are no limits" if curve.survival[at] >= 1 else "nobody is left without the event"
    )


def at_risk_at(curve: SurvivalCurve, time: float) -> int:
    """How many are followed until this time or longer."""
    at = int(np.searchsorted(curve.time, time, side="left"))
    return int(curve.at_risk[at]) if at < len(curve.time) else 0


def time_to(curve: SurvivalCurve, share: float = 0.5) -> TimeTo:
    """By when this share has had the event (the median for 0.5).

    The first time at which survival is 1 - share or less; where the curve touches it exactly and runs level, halfway
    to the next step, or to the end of the curve (the rule of R's survival). Limits: where the band crosses it.
    """
    if not 0 < share < 1:
        raise ValueError(f"The share is {share}; it must lie between 0 and 1, 0.5 for the median.")
    estimate = _crossing(curve.time, curve.survival, 1 - share)
    said = None if estimate is not None else f"fewer than {100 * share:g} % had the event by {curve.last:g}"
    return TimeTo(
        share=share,
        estimate=estimate,
        low=_crossing(curve.time, curve.low, 1 - share),
        high=_crossing(curve.time, curve.high, 1 - share),
        level=curve.level,
        reason=said,
    )


def _crossing(time: FloatArray, level: FloatArray, wanted: float) -> float | None:
    known = ~np.isnan(level)
    time, level = time[known], level[known]
    below = np.flatnonzero(level <= wanted + TOUCH)
    if not len(below):
        return None
    first = int(below[0])
    if abs(level[first] - wanted) > TOUCH:
        return float(time[first])
    later = np.flatnonzero(level < wanted - TOUCH)
    return float((time[first] + (time[later[0]] if len(later) else time[-1])) / 2)


def by_group(
    time: npt.ArrayLike, event: npt.ArrayLike, group: npt.ArrayLike, *, level: float = 0.95, band: Band = "loglog"
) -> dict[str, SurvivalCurve]:
    """A curve for each group, in the order of the groups' names."""
    data: FollowUp = follow_up(time, event)
    of = np.asarray(group).astype(str)
    if of.shape != data.time.shape:
        raise ValueError("time and group must be lists of equal length.")
    return {
        name: kaplan_meier(data.time[of == name], data.event[of == name], level=level, band=band)
        for name in np.unique(of).tolist()
    }
