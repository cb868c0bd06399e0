"""The chance of being in the index group, given what was known before: the propensity score and its overlap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import FAR, logistic
from analysis.estimators.regression.separation import separating

BoolArray = npt.NDArray[np.bool_]
NEAREST = 1e-12
LEAST_SHARED = 10
"""Rows of each group within the range that both have, below which nothing is compared: a limit of ours."""
MOST_OUTSIDE = 0.5
"""The share of a group outside the other's range above which the two are no comparison: a limit of ours."""
METHOD = "propensity score by main-effects logistic regression (Rosenbaum PR, Rubin DB, Biometrika 1983;70:41-55)"


@dataclass(frozen=True, kw_only=True)
class Overlap:
    """Where the scores of the two groups lie, index group first.

    ranges: lowest and highest score of each. outside: rows of each beyond the other's range, and outside_share of its
    rows. shared: the range both have; within: rows of each in it.
    """

    n: tuple[int, int]
    ranges: tuple[tuple[float, float], tuple[float, float]]
    shared: tuple[float, float]
    within: tuple[int, int]
    outside: tuple[int, int]
    outside_share: tuple[float, float]


@dataclass(frozen=True, kw_only=True, eq=False)
class Propensity:
    """scores: shape (rows,), the chance of the index group. index: bool, shape (rows,). x: the columns it was made
    of, intercept first. left_out: rows beyond `limits`, when scores were trimmed; rows: places of those that stayed
    among those given.
    """

    fit: Fitted
    scores: FloatArray
    index: BoolArray
    x: FloatArray
    overlap: Overlap
    rows: npt.NDArray[np.int64]
    limits: tuple[float, float] | None
    left_out: int
    method: str = METHOD


def propensity(
    index: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    limits: tuple[float, float] | None = None,
) -> Propensity:
    """Fit the score.

    index: 1 in the index group, 0 in the other, shape (rows,), without gaps. x: shape (rows, p), of a ``Design``,
    intercept first, of what was known before the choice. limits: scores beyond which rows are left out; the model is
    then fitted anew to the others (Crump RK et al, Biometrika 2009;96:187-199 for 0.1 and 0.9; Li F, Thomas LE, Li F,
    Am J Epidemiol 2019;188:250-257 for fitting anew; both from memory). The comparison then is of those left, another
    question, which has to be said with the answer.

    Raises NotEstimable with one group; where columns tell the group without fail (no overlap, the columns named); and
    when `limits` leaves out a whole group. ValueError for limits that do not rise within 0 and 1.
    """
    group = np.asarray(index, dtype=np.float64)
    if not np.isin(group, (0.0, 1.0)).all():
        raise ValueError("index must be 0 or 1 in every row.")
    if limits is not None and not 0 <= limits[0] < limits[1] <= 1:
        raise ValueError(f"Limits of scores rise within 0 and 1, not {limits[0]:g} to {limits[1]:g}.")
    if not len(group) or group.min() == group.max():
        raise NotEstimable(
            "There are no two groups to compare: every row is in one of them. Ask of rows among which both occur."
        )
    fit = _fitted(group, x, names)
    kept = np.arange(len(group))
    if limits is not None:
        score = _scores(fit, x)
        kept = np.flatnonzero((score >= limits[0]) & (score <= limits[1]))
        if not len(kept) or group[kept].min() == group[kept].max():
            raise NotEstimable(
                f"Within scores of {limits[0]:g} to {limits[1]:g} there is nobody of one of the two groups, so that "
                "nothing can be compared. Take wider limits, or groups that are more alike."
            )
        fit = _fitted(group[kept], x[kept], names)
    scores, of = _scores(fit, x[kept]), group[kept] == 1
    return Propensity(
        fit=fit,
        scores=scores,
        index=of,
        x=x[kept],
        overlap=overlap_of(scores, of),
        rows=kept,
        limits=limits,
        left_out=len(group) - len(kept),
    )


def overlap_of(scores: FloatArray, index: BoolArray) -> Overlap:
    """Ranges of the scores and who lies beyond the other group's; both groups must have a row."""
    one, other = scores[index], scores[~index]
    ends = [(float(each.min()), float(each.max())) for each in (one, other)]
    shared = (max(low for low, _ in ends), min(high for _, high in ends))
    within = [int(((each >= shared[0]) & (each <= shared[1])).sum()) for each in (one, other)]
    outside = [
        int(((each < low) | (each > high)).sum()) for each, (low, high) in zip((one, other), ends[::-1], strict=True)
    ]
    return Overlap(
        n=(len(one), len(other)),
        ranges=(ends[0], ends[1]),
        shared=shared,
        within=(within[0], within[1]),
        outside=(outside[0], outside[1]),
        outside_share=(outside[0] / len(one), outside[1] / len(other)),
    )


def check_overlap(overlap: Overlap, groups: Sequence[int]) -> None:
    """Raise NotEstimable when too few share a range of scores. groups: 0 (index) and 1, whose rows are stood for."""
    low, high = overlap.shared
    if min(overlap.within) < LEAST_SHARED:
        raise NotEstimable(
            f"The groups do not overlap: {overlap.within[0]:,} of {overlap.n[0]:,} in the index group and "
            f"{overlap.within[1]:,} of {overlap.n[1]:,} in the other have a score that both groups have "
            f"({low:.3f} to {high:.3f}), and at least {LEAST_SHARED} of each are needed. They differ in what was known "
            "before, not only in the choice. Compare groups that are more alike, or among fewer patients."
        )
    for at in groups:
        if overlap.outside_share[at] > MOST_OUTSIDE:
            who = ("index", "other")[at]
            raise NotEstimable(
                f"The groups hardly overlap: {overlap.outside[at]:,} of {overlap.n[at]:,} in the {who} group "
                f"({overlap.outside_share[at]:.0%}) have a score that nobody in the opposite group has, so that the "
                "weights would answer for patients with no counterpart. Trim the scores, ask of the overlap "
                "(weights `overlap`), or compare groups that are more alike."
            )


def _fitted(group: FloatArray, x: FloatArray, names: Sequence[str]) -> Fitted:
    try:
        fit = logistic(group, x, names, force=True)
        if np.abs(x @ fit.coefficients).max() <= FAR or not separating(group, x, names):
            return fit
    except NotEstimable:
        if not separating(group, x, names):
            raise
    apart = [name for name in separating(group, x, names) if name != names[0]] or [names[0]]
    raise NotEstimable(
        f"There is no overlap between the groups: {', '.join(apart)} tells which group a row is in without fail, for "
        "some rows or for all, so that these have no counterpart to be compared with. Leave such rows out, or the "
        "column if it has nothing to do with the outcome, or compare other groups."
    )


def _scores(fit: Fitted, x: FloatArray) -> FloatArray:
    # Kept off 0 and 1, which rounding reaches from log odds of 37 on.
    made: FloatArray = np.clip(1 / (1 + np.exp(-(x @ fit.coefficients))), NEAREST, 1 - NEAREST)
    return made
