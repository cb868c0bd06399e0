"""How far proportions of unlike size may lie from a target by chance, and how much more they scatter."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


def funnel_limits(*, target: float, n: npt.ArrayLike, probability: float, exact: bool = True) -> FloatArray:
    """The limit below which a proportion of each size lies with a probability.

    target: 0 to 1. n: whole sizes, shape (units,). probability: 0.025 or 0.975 for 95 % limits, for example. exact:
    binomial, interpolated between whole counts and cut to 0 and 1; else normal, not cut. Spiegelhalter DJ, Stat Med
    2005;24:1185-1202, appendix. Raises ValueError for values out of range.
    """
    from scipy import stats

    size = np.asarray(n, dtype=np.float64)
    if not 0 < target < 1 or not 0 < probability < 1 or (size < 1).any():
        raise ValueError("A funnel needs a target and a probability between 0 and 1, and sizes of 1 or more.")
    if not exact:
        return np.asarray(target + stats.norm.ppf(probability) * np.sqrt(target * (1 - target) / size))
    count = stats.binom.ppf(probability, size, target)
    reached, below = stats.binom.cdf(count, size, target), stats.binom.cdf(count - 1, size, target)
    return np.asarray(np.clip((count - (reached - probability) / (reached - below)) / size, 0.0, 1.0))


@dataclass(frozen=True, eq=False)
class Scatter:
    """z: each unit's distance from the target in standard errors. overdispersion: mean square of the winsorised ones.
    between: variance between units beyond chance (additive model), 0 when there is none. units: few make both unsteady.
    """

    z: FloatArray
    overdispersion: float
    between: float
    units: int


def scatter(*, events: npt.ArrayLike, n: npt.ArrayLike, target: float, winsorised: float = 0.1) -> Scatter:
    """How much units scatter about a target beyond chance.

    events, n: counts, shape (units,). winsorised: share at each end that is pulled in to the quantile there (R's type
    7). Spiegelhalter DJ, Qual Saf Health Care 2005;14:347-351: phi is the mean square of the z, the variance between
    units (I phi - (I - 1)) / (sum w - sum w^2 / sum w) with w = 1/s^2, not below 0.
    """
    x, size = np.asarray(events, dtype=np.float64), np.asarray(n, dtype=np.float64)
    error = np.sqrt(target * (1 - target) / size)
    z = (x / size - target) / error
    low, high = np.quantile(z, [winsorised, 1 - winsorised])
    phi, many, weight = float(np.mean(np.clip(z, low, high) ** 2)), len(z), 1 / error**2
    room = float(weight.sum() - (weight**2).sum() / weight.sum())
    between = max(0.0, (many * phi - (many - 1)) / room) if room > 0 else 0.0
    return Scatter(z=z, overdispersion=phi, between=between, units=many)


@dataclass(frozen=True, kw_only=True)
class ObservedExpected:
    """Observed over expected, the expected taken as known; p two-sided, mid-p."""

    estimate: float
    low: float
    high: float
    low_byar: float
    high_byar: float
    z: float
    p: float
    observed: int
    expected: float
    level: float


def observed_expected(*, observed: int, expected: float, level: float = 0.95) -> ObservedExpected:
    """Ratio of observed to expected events with exact Poisson limits, and Byar's approximation beside.

    Garwood F, Biometrika 1936;28:437-442; Byar as in Breslow NE, Day NE, Statistical Methods in Cancer Research II,
    IARC 1987, section 2.3 (from memory). Raises ValueError unless observed is 0 or more and expected above 0.
    """
    from scipy import stats

    if observed < 0 or not expected > 0:
        raise ValueError(f"Observed is 0 or more and expected above 0, not {observed} and {expected}.")
    tail = (1 - level) / 2
    low = stats.chi2.ppf(tail, 2 * observed) / 2 if observed else 0.0
    high = stats.chi2.ppf(1 - tail, 2 * observed + 2) / 2
    z, more = float(stats.norm.ppf(1 - tail)), observed + 1
    byar_low = observed * (1 - 1 / (9 * observed) - z / (3 * math.sqrt(observed))) ** 3 if observed else 0.0
    byar_high = more * (1 - 1 / (9 * more) + z / (3 * math.sqrt(more))) ** 3
    middle = float(stats.poisson.cdf(observed - 1, expected) + stats.poisson.pmf(observed, expected) / 2)
    return ObservedExpected(
        estimate=observed / expected,
        low=float(low / expected),
        high=float(high / expected),
        low_byar=byar_low / expected,
        high_byar=byar_high / expected,
        z=(observed - expected) / math.sqrt(expected),
        p=2 * min(middle, 1 - middle),
        observed=observed,
        expected=expected,
        level=level,
    )
