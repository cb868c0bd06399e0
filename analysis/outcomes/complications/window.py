"""Whether something lies within so many days of an operation, when a date may be known to the month or not at all."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

BoolArray = npt.NDArray[np.bool_]


def within(
    *, low: pd.Series, high: pd.Series, after: pd.Series, ends: pd.Series, as_of: pd.Timestamp
) -> tuple[BoolArray, BoolArray]:
    """Whether each surely happened by the last day of its window, and whether it may have; shape (rows,) each.

    low, high: first and last day that it can have happened, missing when no date is recorded. after: the day before
    which it cannot have happened (its operation); ends: the window's last day, which is in. The interval is cut to
    `after` and as_of. What lies wholly before `after` contradicts it: it may have happened in the window, not surely.
    """
    first = low.fillna(after).where(low.fillna(after) >= after, after)
    last = high.fillna(as_of).where(high.fillna(as_of) <= as_of, as_of)
    contradicted = (high < after).to_numpy(dtype=bool)
    maybe = (first <= ends).to_numpy(dtype=bool)
    sure = (last <= ends).to_numpy(dtype=bool) & maybe & ~contradicted
    return sure, maybe
