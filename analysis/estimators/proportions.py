"""Confidence intervals for one proportion.

Four methods, named as the command line names them: ``wilson`` (the default), ``exact``, ``mid-p``,
``jeffreys``. Nothing is invented for an empty group: n = 0 gives no limits (None, or NaN in arrays).
"""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
ProportionMethod = Literal["wilson", "exact", "mid-p", "jeffreys"]


@dataclass(frozen=True)
class Interval:
    """Two limits at a stated level by a named method; both are None when there is nothing to estimate."""

    low: float | None
    high: float | None
    method: str
    level: float


@dataclass(frozen=True, eq=False)
class IntervalArrays:
    """Limits of many proportions, in the shape of the counts; NaN where n is 0."""

    low: FloatArray
    high: FloatArray
    method: str
    level: float


def normal_quantile(*, level: float) -> float:
    """The z of a two-sided interval: the (1 + level) / 2 quantile of the standard normal (1.95996 at 0.95).

    Raises ValueError unless 0 < level < 1.
    """
    if not 0.0 < level < 1.0:
        raise ValueError(f"The confidence level is {level}; it must lie between 0 and 1, for instance 0.95.")
    # scipy has it too, but takes a third of a second to load, which only the rarer methods are worth.
    return -NormalDist().inv_cdf((1.0 - level) / 2.0)


def checked_counts(*, events: npt.ArrayLike, n: npt.ArrayLike, where: str = "") -> tuple[FloatArray, FloatArray]:
    """Counts as float arrays of one shape, or a ValueError that says which of them cannot be.

    events, n: numbers or arrays that broadcast together; real numbers pass. where: words put after the name
    of the count in the error sentence (" of the index group").
    """
    shaped_events, shaped_n = np.broadcast_arrays(np.asarray(events, dtype=np.float64), np.asarray(n, dtype=np.float64))
    for name, values in (("events", shaped_events), ("n", shaped_n)):
        if not np.isfinite(values).all():
            raise ValueError(f"{name}{where} holds a value that is missing or infinite; counts must be numbers.")
        if (values < 0).any():
            raise ValueError(f"{name}{where} is {values.min():g}; a count cannot be below 0.")
    if (shaped_events > shaped_n).any():
        excess = int(np.argmax(shaped_events.ravel() > shaped_n.ravel()))
        raise ValueError(
            f"events{where} is {shaped_events.ravel()[excess]:g} but n is {shaped_n.ravel()[excess]:g}; "
            "there cannot be more events than observations."
        )
    return shaped_events, shaped_n


def proportion_interval(
    *, events: float, n: float, method: ProportionMethod = "wilson", level: float = 0.95
) -> Interval:
    """Interval for the proportion ``events / n``.

    events, n: the number with the event and the number observed. ``wilson`` takes real numbers too (an
    effective sample size, its events p times that); the other methods are about whole counts.

    - wilson: the score interval without continuity correction. Wilson EB, J Am Stat Assoc 1927;22:209-212;
      Newcombe RG, Stat Med 1998;17:857-872, method 3.
    - exact: each tail of the binomial at (1 - level)/2. Clopper CJ, Pearson ES, Biometrika 1934;26:404-413.
    - mid-p: as exact, but half of P(X = events) counts in each tail; low = 0 at no events, high = 1 at n
      events. Lancaster HO, J Am Stat Assoc 1961;56:223-234; Newcombe 1998, method 6.
    - jeffreys: equal-tailed quantiles of Beta(events + 1/2, n - events + 1/2), with low = 0 at no events and
      high = 1 at n events. Brown LD, Cai TT, DasGupta A, Stat Sci 2001;16:101-133 (the interval with that end
      rule, not their further "modified Jeffreys").

    n = 0 gives limits of None. Raises ValueError for counts below 0, events above n, a missing or infinite
    count, a level outside 0 to 1, an unknown method, or a fraction where the method needs whole counts.
    """
    known = get_args(ProportionMethod)
    if method not in known:
        raise ValueError(f"There is no interval method {method!r}; choose one of {', '.join(known)}.")
    normal_quantile(level=level)
    x, size = (float(counts) for counts in checked_counts(events=events, n=n))
    if method != "wilson" and not (x.is_integer() and size.is_integer()):
        raise ValueError(
            f"The {method} interval needs whole counts, not {x:g} of {size:g}; wilson takes an effective n."
        )
    if size == 0:
        return Interval(None, None, method, level)
    if method == "wilson":
        limits = wilson_limits(events=x, n=size, level=level)
        low, high = float(limits.low), float(limits.high)
    elif method == "mid-p":
        low, high = _mid_p_low(x, size, level), 1.0 - _mid_p_low(size - x, size, level)
    else:
        low, high = _beta_limits(x, size, method, level)
    return Interval(low, high, method, level)


def wilson_limits(*, events: npt.ArrayLike, n: npt.ArrayLike, level: float = 0.95) -> IntervalArrays:
    """Wilson's score interval for whole arrays of proportions at once.

    events, n: arrays that broadcast together, of real numbers; the limits have their common shape and are NaN
    where n is 0. With z the normal quantile the lower limit is

        low(x, n) = (x^2 / n) / (x + z^2/2 + z sqrt(x (n - x) / n + z^2/4)),
        high(x, n) = 1 - low(n - x, n),

    Wilson's two roots with the subtraction taken out, so that 0 of n gives exactly 0 and n of n exactly 1.
    Wilson EB, J Am Stat Assoc 1927;22:209-212. Raises ValueError for impossible counts or level.
    """
    z = normal_quantile(level=level)
    x, size = checked_counts(events=events, n=n)
    filled = np.where(size > 0, size, np.nan)
    return IntervalArrays(_wilson_low(x, filled, z), 1.0 - _wilson_low(size - x, filled, z), "wilson", level)


def _wilson_low(x: FloatArray, n: FloatArray, z: float) -> FloatArray:
    share = x / n
    low: FloatArray = share * x / (x + z**2 / 2 + z * np.sqrt(share * (n - x) + z**2 / 4))
    return low


def _mid_p_low(x: float, n: float, level: float) -> float:
    """The p at which P(X > x) + P(X = x) / 2 is (1 - level) / 2; the upper limit is its mirror."""
    from scipy.optimize import brentq  # slow to load: only for who asks
    from scipy.special import betainc

    if x == 0:
        return 0.0
    tail = (1.0 - level) / 2.0

    def excess(p: float) -> float:
        at_least = betainc(x, n - x + 1, p)
        more = betainc(x + 1, n - x, p) if x < n else 0.0
        return float((at_least + more) / 2.0 - tail)

    # At p = x/n the mid-p tail is near 1/2, but for a low level it may still lie under the wanted tail.
    top = x / n if excess(x / n) > 0 else 1.0
    return float(brentq(excess, 0.0, top, xtol=1e-18, rtol=1e-14))


def _beta_limits(x: float, n: float, method: ProportionMethod, level: float) -> tuple[float, float]:
    from statsmodels.stats.proportion import proportion_confint  # a second of import: only for who asks

    name = "beta" if method == "exact" else "jeffreys"
    # the end rule is ours: statsmodels leaves Jeffreys at 0 and n events as the quantiles fall
    low, high = proportion_confint(int(x), int(n), alpha=1.0 - level, method=name)
    return (0.0 if x == 0 else float(low)), (1.0 if x == n else float(high))
