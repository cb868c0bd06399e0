"""Follow-up at the door: times above nothing, events yes or no, everybody followed from the origin."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray, NotEstimable

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class FollowUp:
    """time: from the origin to the event or the end of follow-up, shape (rows,). event: whether it was the event."""

    time: FloatArray
    event: BoolArray

    @property
    def n(self) -> int:
        """Rows."""
        return len(self.time)


@dataclass(frozen=True, eq=False)
class Causes:
    """time: as of FollowUp. cause: 0 where nothing had happened by then, else 1, 2, ..., shape (rows,)."""

    time: FloatArray
    cause: IntArray

    @property
    def n(self) -> int:
        """Rows."""
        return len(self.time)


def follow_up(time: npt.ArrayLike, event: npt.ArrayLike, *, entry: npt.ArrayLike | None = None) -> FollowUp:
    """Checked follow-up.

    time: numbers above 0 in any unit, shape (rows,). event: bool (or 0 and 1), shape (rows,). entry: when each came
    under observation; anything after 0 is refused.

    Raises ValueError for lengths that differ or values that are no times or events, NotEstimable for no row, a time
    of 0 or below, and late entry.
    """
    t = checked_times(time, entry)
    e = np.asarray(event)
    if e.shape != t.shape:
        raise ValueError(f"time and event must be lists of equal length; their shapes are {t.shape} and {e.shape}.")
    if e.dtype.kind not in "biuf" or not np.isin(e, (0, 1)).all():
        raise ValueError("event must be True or False in every row; words and missing values are not read as either.")
    return FollowUp(t, e.astype(np.bool_))


def causes(time: npt.ArrayLike, cause: npt.ArrayLike, *, entry: npt.ArrayLike | None = None) -> Causes:
    """Checked follow-up with competing events: cause 0 (nothing yet), 1, 2, ...; otherwise as `follow_up`."""
    t = checked_times(time, entry)
    c = np.asarray(cause)
    if c.shape != t.shape:
        raise ValueError(f"time and cause must be lists of equal length; their shapes are {t.shape} and {c.shape}.")
    whole = c.dtype.kind in "iu" or (c.dtype.kind == "f" and bool((np.isfinite(c) & (c == np.floor(c))).all()))
    if not whole or (len(c) and c.min() < 0):
        raise ValueError("cause must be 0 (nothing yet) or a whole number from 1 in every row.")
    return Causes(t, c.astype(np.int64, copy=False))


def checked_times(time: npt.ArrayLike, entry: npt.ArrayLike | None) -> FloatArray:
    """Times as floats, each above 0 and followed from the origin; refusals as `follow_up`."""
    t = np.asarray(time, dtype=np.float64)
    if t.ndim != 1 or not np.isfinite(t).all():
        raise ValueError("time must be a list of numbers, none missing or infinite.")
    if not len(t):
        raise NotEstimable("There is nobody to follow: no row is left. Ask of other rows.")
    if t.min() <= 0:
        wrong = int((t <= 0).sum())
        raise NotEstimable(
            f"{wrong:,} of {len(t):,} times are 0 or below, so that follow-up ends when or before it begins. Give what "
            "happened on the day of origin a stated time above 0 (half a day), or leave these rows out and say so."
        )
    if entry is not None and (np.asarray(entry, dtype=np.float64) > 0).any():
        late = int((np.asarray(entry, dtype=np.float64) > 0).sum())
        raise NotEstimable(
            f"{late:,} of {len(t):,} come under observation after the origin (left truncation), which is not offered: "
            "the clustered errors of the libraries at hand are wrong for it. Choose an origin from which everybody is "
            "observed."
        )
    return t
