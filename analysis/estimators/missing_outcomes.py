"""How far outcomes that nobody knows could move a rate, or a difference of two."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.estimators.proportions import checked_counts, normal_quantile, wilson_limits
from analysis.estimators.two_groups import Effect, risk_difference


@dataclass(frozen=True)
class RateBounds:
    """worst and best: the rate with every unknown counted as failed, and as free; low and high: Wilson's lower limit
    of the worst and upper limit of the best. All None where nobody is eligible.
    """

    worst: float | None
    best: float | None
    low: float | None
    high: float | None


def rate_bounds(*, events: int, known: int, unknown: int, level: float = 0.95) -> RateBounds:
    """Bounds of a rate whatever the unknown would have shown.

    Manski CF, Am Econ Rev Papers Proc 1990;80:319-323; Wilson's limits as in ``proportions``. Raises ValueError for
    impossible counts, or level.
    """
    checked_counts(events=events, n=known)
    if unknown < 0:
        raise ValueError(f"The number of unknown outcomes is {unknown}; a count cannot be below 0.")
    normal_quantile(level=level)
    n = known + unknown
    if not n:
        return RateBounds(None, None, None, None)
    limits = wilson_limits(events=[events, events + unknown], n=[n, n], level=level)
    return RateBounds(events / n, (events + unknown) / n, float(limits.low[0]), float(limits.high[1]))


@dataclass(frozen=True)
class DifferenceBounds:
    """Index minus comparator: among the known, and with the unknown of each group all failed or all free.

    worst and best are for the index group: its unknown all failed and the comparator's all free, and the reverse.
    tipping: with the index group's unknown all failed, the smallest number of free among the comparator's unknown at
    which the lower limit of the difference is 0 or less; None when no number does that.
    """

    complete: Effect
    worst: float | None
    best: float | None
    both_failed: float | None
    both_free: float | None
    tipping: int | None


def difference_bounds(
    *,
    events_index: int,
    known_index: int,
    unknown_index: int,
    events_comparator: int,
    known_comparator: int,
    unknown_comparator: int,
    level: float = 0.95,
) -> DifferenceBounds:
    """Bounds of a difference of two rates whatever the unknown would have shown; limits Newcombe's hybrid score.

    Manski 1990 as in ``rate_bounds``; the tipping point as Yan X, Lee S, Li N, J Biopharm Stat 2009;19:1085-1098. None
    where a group has nobody. Raises ValueError for impossible counts, or level.
    """
    index = rate_bounds(events=events_index, known=known_index, unknown=unknown_index, level=level)
    other = rate_bounds(events=events_comparator, known=known_comparator, unknown=unknown_comparator, level=level)
    complete = risk_difference(
        events_index=events_index,
        n_index=known_index,
        events_comparator=events_comparator,
        n_comparator=known_comparator,
        level=level,
    )
    if index.worst is None or index.best is None or other.worst is None or other.best is None:
        return DifferenceBounds(complete, None, None, None, None, None)
    tipping = None
    for free in range(unknown_comparator + 1):
        tried = risk_difference(
            events_index=events_index,
            n_index=known_index + unknown_index,
            events_comparator=events_comparator + free,
            n_comparator=known_comparator + unknown_comparator,
            level=level,
        )
        if tried.low is not None and tried.low <= 0:
            tipping = free
            break
    return DifferenceBounds(
        complete=complete,
        worst=index.worst - other.best,
        best=index.best - other.worst,
        both_failed=index.worst - other.worst,
        both_free=index.best - other.best,
        tipping=tipping,
    )
