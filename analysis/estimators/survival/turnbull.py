"""The share still without an event that is only known to lie between two looks: Turnbull's estimator.

lifelines takes both ends of an interval as within it, which gives another curve where one row's first look with the
event is another's last look without; here an interval is open on the left, and the search ends only where the
conditions of a maximum hold. It has no standard error: the estimate does not tend to a normal one at the usual rate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.survival.follow_up import IntArray

SHARINGS, MOST_STEPS, ENOUGH, NOTHING = 500, 200, 1e-5, 1e-9
NO_ERROR = (
    "Turnbull's estimate has no standard error of the usual kind; for an interval use the Weibull model, and compare "
    "the two curves."
)


@dataclass(frozen=True, kw_only=True)
class BetweenLooks:
    """Survival at a time. low and high differ where the time lies in an interval within which nothing is known."""

    time: float
    low: float | None
    high: float | None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class IntervalCurve:
    """Turnbull's curve.

    left, right: ends of the innermost intervals that hold mass, rising, right infinite where the event may never have
    come. mass: of each. survival: after each. n: rows; known: of those, with the event between two looks.
    last: the last look. gap: how far the conditions of a maximum are from holding (0 when they hold).
    """

    left: FloatArray
    right: FloatArray
    mass: FloatArray
    survival: FloatArray
    n: int
    known: int
    last: float
    gap: float
    method: str = "Turnbull's estimator"
    remark: str = NO_ERROR


def checked_intervals(left: npt.ArrayLike, right: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Ends of intervals. Raises ValueError for what is no interval, NotEstimable for no row or no event."""
    low, high = np.asarray(left, dtype=np.float64), np.asarray(right, dtype=np.float64)
    if low.ndim != 1 or low.shape != high.shape:
        raise ValueError(
            f"left and right must be lists of equal length; their shapes are {low.shape} and {high.shape}."
        )
    if np.isnan(low).any() or np.isnan(high).any() or not np.isfinite(low).all():
        raise ValueError("left must be a number and right a number or infinite (not seen by the last look).")
    if not len(low):
        raise NotEstimable("There is nobody to follow: no row is left. Ask of other rows.")
    wrong = int(((low < 0) | (high <= low)).sum())
    if wrong:
        raise NotEstimable(
            f"{wrong:,} of {len(low):,} intervals end when or before they begin, or begin before the origin. Left is "
            "the last look without the event (0 when there was none), right the first look with it."
        )
    if not np.isfinite(high).any():
        raise NotEstimable(f"Nothing can be told of the time: none of {len(low):,} had the event by the last look.")
    return low, high


def turnbull(left: npt.ArrayLike, right: npt.ArrayLike) -> IntervalCurve:
    """The curve from rows whose event lies in (left, right].

    left: last look without the event, 0 when there was none; right: first look with it, infinite when there was none;
    shape (rows,), in any unit of time from the origin.

    Turnbull BW, J R Stat Soc B 1976;38:290-295: mass lies only in the innermost intervals (a left end followed at once
    by a right end); each row's weight is shared among those within its interval in proportion to their mass, until for
    each the sum over rows of 1 / (mass within the row) is at most n, and n where it has mass (Gentleman R, Geyer CJ,
    Biometrika 1994;81:618-623). After so many sharings constrained Newton steps find the rest: Wang Y, J R Stat Soc B
    2007;69:185-198.
    Raises NotEstimable when that is not reached, ValueError for what is no interval.
    """
    low, high = checked_intervals(left, right)
    pairs, weight = np.unique(np.column_stack([low, high]), axis=0, return_counts=True)
    begins, ends = _innermost(pairs)
    # Each row covers innermost intervals first .. last, so that sums are differences of running totals.
    first = np.searchsorted(begins, pairs[:, 0], side="left")
    last = np.searchsorted(ends, pairs[:, 1], side="right")
    mass, gap = _maximum(_Cover(first, last, weight.astype(np.float64), len(begins)))
    on = mass > NOTHING
    mass = mass[on] / mass[on].sum()
    looks = np.concatenate([low, high[np.isfinite(high)]])
    return IntervalCurve(
        left=begins[on],
        right=ends[on],
        mass=mass,
        survival=np.maximum(1 - np.cumsum(mass), 0.0),
        n=len(low),
        known=int(np.isfinite(high).sum()),
        last=float(looks.max()),
        gap=gap,
    )


def _innermost(pairs: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Intervals (left, right] whose ends follow one another with no other end between them."""
    marks = np.concatenate([pairs[:, 0], pairs[:, 1]])
    is_left = np.concatenate([np.ones(len(pairs), dtype=np.int64), np.zeros(len(pairs), dtype=np.int64)])
    order = np.lexsort((is_left, marks))  # at one time the interval that is closed there ends before the next begins
    marks, is_left = marks[order], is_left[order]
    at = np.flatnonzero((is_left[:-1] == 1) & (is_left[1:] == 0))
    return marks[at], marks[at + 1]


@dataclass(frozen=True, eq=False)
class _Cover:
    """Distinct rows, each of which covers the innermost intervals first .. last - 1, and how often each occurs."""

    first: IntArray
    last: IntArray
    weight: FloatArray
    many: int

    def chance(self, mass: FloatArray) -> FloatArray:
        """The mass within each row."""
        total = np.concatenate([[0.0], np.cumsum(mass)])
        return np.asarray(np.maximum(total[self.last] - total[self.first], 1e-300), dtype=np.float64)

    def pull(self, mass: FloatArray) -> FloatArray:
        """Of each interval the mean over rows of (covers it) / (mass within the row): 1 or less at the maximum."""
        share = self.weight / self.chance(mass)
        change = np.bincount(self.first, weights=share, minlength=self.many + 1)
        change -= np.bincount(self.last, weights=share, minlength=self.many + 1)
        return np.asarray(np.cumsum(change[: self.many]) / self.weight.sum(), dtype=np.float64)

    def likelihood(self, mass: FloatArray) -> float:
        """Its logarithm."""
        return float(self.weight @ np.log(self.chance(mass)))


def _maximum(cover: _Cover) -> tuple[FloatArray, float]:
    """Shares by self-consistency at first, then by constrained Newton steps, which end where those creep."""
    mass = np.full(cover.many, 1 / cover.many)
    for _ in range(SHARINGS):
        mass = mass * cover.pull(mass)
    for _ in range(MOST_STEPS):
        pull = cover.pull(mass)
        gap = float(max((pull - 1).max(), np.abs((pull - 1) * (mass > NOTHING)).max()))
        if gap < ENOUGH:
            return mass, max(gap, 0.0)
        mass = _newton(cover, mass, pull)
    raise NotEstimable(
        f"Turnbull's estimator did not settle in {MOST_STEPS} steps, so that no curve is given. Use the Weibull model, "
        "or round the looks to weeks."
    )


def _newton(cover: _Cover, mass: FloatArray, pull: FloatArray) -> FloatArray:
    """Least squares of the likelihood's second-order form over masses of 0 or more, as far as the likelihood rises."""
    from scipy import linalg
    from scipy.optimize import nnls

    on = np.flatnonzero((mass > NOTHING) | (pull > 1 - 1e-6))
    inside = (cover.first[:, None] <= on) & (on < cover.last[:, None])
    root = np.sqrt(cover.weight)
    slopes = inside / cover.chance(mass)[:, None] * root[:, None]
    whole = 1e2 * cover.weight.sum()  # holds the sum at 1
    square = slopes.T @ slopes + whole
    triangle = linalg.cholesky(square + 1e-13 * np.trace(square) * np.eye(len(on)))  # as many rows as intervals
    wanted = linalg.solve_triangular(triangle, slopes.T @ (2 * root) + whole, trans="T")
    found = np.zeros(cover.many)
    found[on] = nnls(triangle, wanted)[0]
    found /= found.sum()
    before, step = cover.likelihood(mass), 1.0
    while step > 1e-6:
        tried = mass + step * (found - mass)
        if cover.likelihood(tried) > before:
            return np.where(tried > NOTHING, tried, 0.0)
        step /= 2
    return mass * pull


def between_looks(curve: IntervalCurve, times: Sequence[float]) -> list[BetweenLooks]:
    """Survival at times, in the order asked: what it is at least and at most; equal where it is known."""
    made = []
    for time in times:
        if not 0 <= time <= curve.last:
            made.append(BetweenLooks(time=time, low=None, high=None, reason=f"no look after {curve.last:g}"))
            continue
        done = float(curve.mass[curve.right <= time].sum())
        open_ = float(curve.mass[(curve.left < time) & (curve.right > time)].sum())
        said = None if open_ == 0 else "the time lies between two looks within which the curve is not known"
        made.append(BetweenLooks(time=time, low=max(1 - done - open_, 0.0), high=1 - done, reason=said))
    return made
