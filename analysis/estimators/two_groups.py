"""Difference, ratio and odds ratio of two proportions: always index minus, or over, comparator.

A zero cell is never mended by adding a half. Where the estimate is finite it stands; where its limits cannot
be had they are None, and `reason` says why.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from analysis.estimators.proportions import checked_counts, normal_quantile, wilson_limits

Measure = Literal["difference", "ratio", "odds_ratio"]
NO_VARIANCE = "the estimated variance is 0"


@dataclass(frozen=True)
class Effect:
    """One contrast of two groups. estimate, low and high may each be None; then reason says why in words."""

    measure: Measure
    estimate: float | None
    low: float | None
    high: float | None
    method: str
    level: float
    reason: str | None = None


@dataclass(frozen=True)
class TwoGroupEffects:
    """The three contrasts of one pair of groups."""

    difference: Effect
    ratio: Effect
    odds_ratio: Effect


def difference_effect(*, estimate: float, variance: float, method: str, level: float) -> Effect:
    """A difference with limits estimate -+ z sqrt(variance), cut at -1 and 1; no limits if that is 0."""
    z = normal_quantile(level=level)
    if not variance > 0:
        return Effect("difference", estimate, None, None, method, level, NO_VARIANCE)
    reach = z * math.sqrt(variance)
    low, high = max(-1.0, estimate - reach), min(1.0, estimate + reach)
    return Effect("difference", estimate, low, high, method, level)


def log_scale_effect(
    *,
    measure: Measure,
    over: float,
    under: float,
    log_variance: Callable[[], float],
    method: str,
    level: float,
) -> Effect:
    """The effect over / under with limits multiplied and divided by exp(z sqrt(log_variance)).

    log_variance is asked only when both parts are above 0. under = 0: no estimate; over = 0: estimate 0
    without limits; a variance of 0, or limits too wide for a number: no limits; each with its reason.
    """
    z = normal_quantile(level=level)
    if under == 0:
        return Effect(measure, None, None, None, method, level, "its denominator is 0")
    if over == 0:
        return Effect(measure, 0.0, None, None, method, level, "its numerator is 0, so its logarithm has no limits")
    estimate, variance = over / under, log_variance()
    if not variance > 0:
        return Effect(measure, estimate, None, None, method, level, NO_VARIANCE)
    reach = z * math.sqrt(variance)
    if reach + abs(math.log(estimate)) > 700:
        return Effect(measure, estimate, None, None, method, level, "the interval is too wide to be written")
    return Effect(measure, estimate, estimate * math.exp(-reach), estimate * math.exp(reach), method, level)


def risk_difference(
    *, events_index: float, n_index: float, events_comparator: float, n_comparator: float, level: float = 0.95
) -> Effect:
    """p_index - p_comparator with Newcombe's hybrid score interval.

    Counts may be real numbers (effective sizes). With Wilson limits (l1, u1) and (l0, u0) of the two rates,

        low = d - sqrt((p1 - l1)^2 + (u0 - p0)^2),    high = d + sqrt((u1 - p1)^2 + (p0 - l0)^2).

    Newcombe RG, Stat Med 1998;17:873-890, method 10. An empty group gives None with the reason. Raises
    ValueError for impossible counts or level.
    """
    method = "Newcombe hybrid score"
    x1, n1, x0, n0 = _checked(events_index, n_index, events_comparator, n_comparator, level)
    if (why := _empty(n1, n0)) is not None:
        return Effect("difference", None, None, None, method, level, why)
    p1, p0 = x1 / n1, x0 / n0
    wilson = wilson_limits(events=[x1, x0], n=[n1, n0], level=level)
    (l1, l0), (u1, u0) = wilson.low.tolist(), wilson.high.tolist()
    low = max(-1.0, p1 - p0 - math.hypot(p1 - l1, u0 - p0))
    high = min(1.0, p1 - p0 + math.hypot(u1 - p1, p0 - l0))
    return Effect("difference", p1 - p0, low, high, method, level)


def risk_ratio(
    *, events_index: float, n_index: float, events_comparator: float, n_comparator: float, level: float = 0.95
) -> Effect:
    """p_index / p_comparator with Katz's log interval.

    Var log RR = 1/x1 - 1/n1 + 1/x0 - 1/n0. Katz D, Baptista J, Azen SP, Pike MC, Biometrics 1978;34:469-474.
    No events in the comparator: no estimate. No events in the index group: estimate 0 without limits. Events
    in everyone of both groups: estimate 1 without limits (the formula would give a width of 0). Raises
    ValueError for impossible counts or level.
    """
    method = "Katz log"
    x1, n1, x0, n0 = _checked(events_index, n_index, events_comparator, n_comparator, level)
    if (why := _empty(n1, n0)) is not None:
        return Effect("ratio", None, None, None, method, level, why)
    if x0 == 0:
        return Effect("ratio", None, None, None, method, level, "no events in the comparator group")
    if x1 == 0:
        return Effect("ratio", 0.0, None, None, method, level, "no events in the index group")
    if x1 == n1 and x0 == n0:
        return Effect("ratio", 1.0, None, None, method, level, "everyone in both groups had the event")
    return log_scale_effect(
        measure="ratio",
        over=x1 / n1,
        under=x0 / n0,
        log_variance=lambda: (n1 - x1) / (n1 * x1) + (n0 - x0) / (n0 * x0),
        method=method,
        level=level,
    )


def odds_ratio(
    *, events_index: float, n_index: float, events_comparator: float, n_comparator: float, level: float = 0.95
) -> Effect:
    """Odds of the event in the index group over those in the comparator, with Woolf's log interval.

    Var log OR = 1/a + 1/b + 1/c + 1/d over the four cells. Woolf B, Ann Hum Genet 1955;19:251-253. A zero
    among index events or comparator non-events alone: estimate 0 without limits. A zero in either other cell:
    no estimate. Raises ValueError for impossible counts or level.
    """
    method = "Woolf log"
    x1, n1, x0, n0 = _checked(events_index, n_index, events_comparator, n_comparator, level)
    if (why := _empty(n1, n0)) is not None:
        return Effect("odds_ratio", None, None, None, method, level, why)
    cells = {
        "no events in the comparator group": x0,
        "everyone in the index group had the event": n1 - x1,
        "no events in the index group": x1,
        "everyone in the comparator group had the event": n0 - x0,
    }
    zeros = [words for words, count in cells.items() if count == 0]
    if zeros:
        estimate = None if x0 == 0 or x1 == n1 else 0.0
        return Effect("odds_ratio", estimate, None, None, method, level, "; ".join(zeros))
    return log_scale_effect(
        measure="odds_ratio",
        over=x1 / (n1 - x1),
        under=x0 / (n0 - x0),
        log_variance=lambda: sum(1.0 / count for count in cells.values()),
        method=method,
        level=level,
    )


def two_group_effects(
    *, events_index: float, n_index: float, events_comparator: float, n_comparator: float, level: float = 0.95
) -> TwoGroupEffects:
    """The difference (Newcombe), ratio (Katz) and odds ratio (Woolf) of one pair of groups.

    Arguments, zero cells and errors as in ``risk_difference``, ``risk_ratio`` and ``odds_ratio``.
    """

    def ask(measure: Measure) -> Effect:
        function = {"difference": risk_difference, "ratio": risk_ratio, "odds_ratio": odds_ratio}[measure]
        return function(
            events_index=events_index,
            n_index=n_index,
            events_comparator=events_comparator,
            n_comparator=n_comparator,
            level=level,
        )

    return TwoGroupEffects(ask("difference"), ask("ratio"), ask("odds_ratio"))


def _checked(
    events_index: float, n_index: float, events_comparator: float, n_comparator: float, level: float
) -> tuple[float, float, float, float]:
    normal_quantile(level=level)
    x1, n1 = checked_counts(events=events_index, n=n_index, where=" of the index group")
    x0, n0 = checked_counts(events=events_comparator, n=n_comparator, where=" of the comparator group")
    return float(x1), float(n1), float(x0), float(n0)


def _empty(n_index: float, n_comparator: float) -> str | None:
    if n_index == 0 and n_comparator == 0:
        return "both groups are empty"
    if n_index == 0:
        return "the index group is empty"
    return "the comparator group is empty" if n_comparator == 0 else None
