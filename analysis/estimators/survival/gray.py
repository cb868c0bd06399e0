"""Whether groups differ in the cumulative incidence of one of several events: Gray's test."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.survival.follow_up import causes


@dataclass(frozen=True, kw_only=True)
class GrayTest:
    """Chi-squared on `df` for one cause. groups: their names; n, events: of each, events of this cause."""

    cause: int
    statistic: float
    df: int
    p: float
    groups: tuple[str, ...]
    n: tuple[int, ...]
    events: tuple[int, ...]
    method: str = "Gray's test"
    remarks: tuple[str, ...] = (
        "Rows are taken as independent; where one patient has several, compare by the Fine-Gray model with clusters.",
    )


def gray(time: npt.ArrayLike, cause: npt.ArrayLike, group: npt.ArrayLike, *, of: int = 1) -> GrayTest:
    """Compare the cumulative incidence of cause `of` between groups.

    time, cause: as `follow_up.causes`. group: any labels, shape (rows,). Gray RJ, Ann Stat 1988;16:1141-1154, with
    rho = 0 (comprisk).
    Raises NotEstimable for fewer than two groups, a cause of which nobody had the event, or a group
    that was gone before it.
    """
    data = causes(time, cause)
    names, code = np.unique(np.asarray(group).astype(str), return_inverse=True)
    if code.shape != data.time.shape:
        raise ValueError("time and group must be lists of equal length.")
    mine = data.cause == of
    if len(names) < 2 or not mine.any():
        what = f"there is one group, {names[0]}" if len(names) < 2 else f"nobody had the event of cause {of}"
        raise NotEstimable(f"Cumulative incidences cannot be compared: {what}. Ask of other rows or another event.")
    first = data.time[mine].min()
    gone = [name for at, name in enumerate(names.tolist()) if data.time[code == at].max() < first]
    if gone:
        raise NotEstimable(
            f"Cumulative incidences cannot be compared: nobody of {', '.join(gone)} is followed until the event first "
            "happens. Leave the group out, or join it with another."
        )
    from comprisk.gray_test import gray_test

    found = gray_test(data.time, data.cause, code, cause=of)
    return GrayTest(
        cause=of,
        statistic=float(found.stat),
        df=int(found.df),
        p=float(found.pvalue),
        groups=tuple(names.tolist()),
        n=tuple(np.bincount(code).tolist()),
        events=tuple(np.bincount(code, weights=mine, minlength=len(names)).astype(int).tolist()),
    )
