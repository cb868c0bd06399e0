"""The mean time without the event up to a horizon: the area under a survival curve, and two of them compared."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.kaplan_meier import SurvivalCurve


@dataclass(frozen=True, kw_only=True)
class RestrictedMean:
    """Mean time without the event up to `horizon`, in the unit of time, with its standard error and limits."""

    horizon: float
    estimate: float
    standard_error: float
    low: float
    high: float
    n: int
    events: int
    level: float
    method: str = "area under the Kaplan-Meier curve, Greenwood plug-in error"


@dataclass(frozen=True, kw_only=True)
class Contrast:
    """Index against comparator; standard_error of the difference, or of the log of the ratio."""

    label: str
    estimate: float
    standard_error: float
    low: float
    high: float
    p: float
    level: float


def restricted_mean(curve: SurvivalCurve, horizon: float) -> RestrictedMean:
    """The area under the curve from 0 to the horizon.

    Variance: over event times t up to the horizon, the sum of (area from t to the horizon)^2 d / (n (n - d)). Royston
    P, Parmar MK, BMC Med Res Methodol 2013;13:152. (lifelines gives the variance of the time, not of its mean.)

    Raises NotEstimable for a horizon beyond the last time with somebody at risk, unless nobody is left without the
    event by then, and for a curve whose error allows for clusters; ValueError for a horizon of 0 or below.
    """
    if not horizon > 0:
        raise ValueError(f"The horizon is {horizon}; it must be above 0, in the unit of time.")
    if curve.clusters is not None:
        raise NotEstimable(
            "The error of a restricted mean is made for independent rows. Take one row a patient, or a bootstrap that "
            "draws patients."
        )
    if horizon > curve.last and curve.survival[-1] > 0:
        raise NotEstimable(
            f"The curve is not known up to {horizon:g}: nobody is at risk after {curve.last:g}. Choose a horizon up to "
            "there."
        )
    inside = curve.time < horizon
    time, survival = curve.time[inside], curve.survival[inside]
    steps = np.diff(np.append(time, horizon)) * survival
    after = steps[::-1].cumsum()[::-1]  # the area from each time on
    d, n = curve.events[inside], curve.at_risk[inside]
    left = n * (n - d)
    variance = float(np.where(left > 0, after**2 * d / np.maximum(left, 1), 0.0).sum())
    z, mean, error = normal_quantile(level=curve.level), float(steps.sum()), math.sqrt(variance)
    return RestrictedMean(
        horizon=horizon,
        estimate=mean,
        standard_error=error,
        low=max(mean - z * error, 0.0),
        high=min(mean + z * error, horizon),
        n=curve.n,
        events=curve.n_events,
        level=curve.level,
    )


def restricted_mean_contrasts(index: RestrictedMean, comparator: RestrictedMean) -> dict[str, Contrast]:
    """`difference` and `ratio` (limits on the log scale) of two independent groups up to the same horizon.

    Raises ValueError for different horizons or levels.
    """
    if (index.horizon, index.level) != (comparator.horizon, comparator.level):
        raise ValueError("Two restricted means are compared at one horizon and one level.")
    error = math.hypot(index.standard_error, comparator.standard_error)
    logs = math.hypot(index.standard_error / index.estimate, comparator.standard_error / comparator.estimate)
    z = normal_quantile(level=index.level)
    gap, ratio = index.estimate - comparator.estimate, index.estimate / comparator.estimate
    return {
        "difference": Contrast(
            label="difference of restricted means", estimate=gap, standard_error=error, low=gap - z * error,
            high=gap + z * error, p=_p(gap, error), level=index.level,
        ),
        "ratio": Contrast(
            label="ratio of restricted means", estimate=ratio, standard_error=logs, low=ratio * math.exp(-z * logs),
            high=ratio * math.exp(z * logs), p=_p(math.log(ratio), logs), level=index.level,
        ),
    }  # fmt: skip


def _p(value: float, error: float) -> float:
    if error <= 0:
        return 1.0 if value == 0 else 0.0
    return math.erfc(abs(value) / error / math.sqrt(2))
