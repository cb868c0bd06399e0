"""How well a score or a probability tells those with an outcome from those without it.

The area under the curve (the c statistic) is the chance that one with the outcome has a higher score than one
without, ties counting half.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile

METHOD = "DeLong"
CLUSTERED = "cluster bootstrap, percentile"
FEW = 10
"""With fewer than so many on either side an area is named as resting on too few."""
NOBODY = "there is nobody"
FEWER_THAN_TWO = "fewer than two of one outcome: no variance can be got"
ONE_ORDER = "every pair is in the same order or tied, so that DeLong's variance is 0 and says nothing"
CELLS_AT_ONCE = 4_000_000


@dataclass(frozen=True, kw_only=True)
class Area:
    """estimate: the area. standard_error, low, high: DeLong's, cut to 0 and 1. low_logit, high_logit: on the logit.

    n: rows; events: of them with the outcome. low_clustered, high_clustered: from resamples of whole clusters; None
    without clusters. reason: why estimate or limits are missing. warning: what makes it weak.
    """

    n: int
    events: int
    level: float
    estimate: float | None = None
    standard_error: float | None = None
    low: float | None = None
    high: float | None = None
    low_logit: float | None = None
    high_logit: float | None = None
    low_clustered: float | None = None
    high_clustered: float | None = None
    clusters: int | None = None
    method: str = METHOD
    reason: str | None = None
    warning: str | None = None


@dataclass(frozen=True, kw_only=True)
class AreaDifference:
    """Difference of two areas of the same rows, first minus second, with DeLong's paired test."""

    n: int
    events: int
    level: float
    first: float | None = None
    second: float | None = None
    difference: float | None = None
    standard_error: float | None = None
    low: float | None = None
    high: float | None = None
    z: float | None = None
    p: float | None = None
    reason: str | None = None


def auc(
    outcome: npt.ArrayLike,
    score: npt.ArrayLike,
    level: float = 0.95,
    cluster: npt.ArrayLike | None = None,
    *,
    seed: int = 1,
    replicates: int = 2000,
) -> Area:
    """The area under the receiver operating characteristic curve.

    outcome: 0/1 or bool, shape (rows,). score: numbers, higher where the outcome is thought likelier. cluster: labels
    (patients), whole clusters are resampled `replicates` times; a resample without both outcomes is left out.

    Variance by the structural components of DeLong ER, DeLong DM, Clarke-Pearson DL, Biometrics 1988;44:837-845, got
    from midranks (Sun X, Xu W, IEEE Signal Process Lett 2014;21:1389-1393). Logit limits: standard error / (A (1 - A))
    on the logit of A. Percentile bootstrap: Efron B, Tibshirani RJ, An Introduction to the Bootstrap, 1993, chapter
    13. No limits by DeLong with fewer than two of either outcome, or where no pair is out of order or none in order,
    since the formula's variance is then 0. Raises ValueError for unequal lengths, missing values, an outcome other
    than 0 or 1, fewer than one replicate, or level.
    """
    z = normal_quantile(level=level)
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    y, values = _checked(outcome, score)
    n, events = len(y), int(y.sum())
    made = Area(n=n, events=events, level=level, warning=_warning(events, n))
    if cluster is not None:
        labels = np.asarray(cluster)
        if labels.shape != y.shape:
            raise ValueError(f"cluster has {labels.shape} entries, outcome {y.shape}; they must be alike.")
        low, high = _bootstrap(y, values, labels, seed, replicates, level)
        made = replace(made, clusters=len(np.unique(labels)), low_clustered=low, high_clustered=high)
    if not 0 < events < n:
        which = "nobody has" if not events else "everybody has"
        return replace(
            made, warning=None, reason=f"{which} the outcome, so there is nothing to tell apart" if n else NOBODY
        )
    with_it, without = _components(y, values)
    estimate = float(with_it.mean())
    variance = _variance([with_it], [without])
    if variance is None or variance[0, 0] <= 0:
        return replace(made, estimate=estimate, reason=FEWER_THAN_TWO if variance is None else ONE_ORDER)
    error = math.sqrt(float(variance[0, 0]))
    low_logit, high_logit = _logit_limits(estimate, z * error)
    return replace(
        made,
        estimate=estimate,
        standard_error=error,
        low=max(0.0, estimate - z * error),
        high=min(1.0, estimate + z * error),
        low_logit=low_logit,
        high_logit=high_logit,
    )


def auc_difference(
    outcome: npt.ArrayLike, first: npt.ArrayLike, second: npt.ArrayLike, level: float = 0.95
) -> AreaDifference:
    """Two scores of the same rows compared: DeLong's paired test and interval (source as in `auc`).

    outcome, first, second: shape (rows,). No test where the variance of the difference is 0 (two scores that order
    all pairs alike) or cannot be got. Rows are taken as independent. Raises ValueError as `auc` does.
    """
    half = normal_quantile(level=level)
    y, one = _checked(outcome, first)
    _, other = _checked(outcome, second)
    n, events = len(y), int(y.sum())
    if not 0 < events < n:
        return AreaDifference(n=n, events=events, level=level, reason="one of the two outcomes does not occur")
    parts = [_components(y, values) for values in (one, other)]
    areas = [float(with_it.mean()) for with_it, _ in parts]
    gap = areas[0] - areas[1]
    matrix = _variance([part[0] for part in parts], [part[1] for part in parts])
    spread = 0.0 if matrix is None else float(matrix[0, 0] + matrix[1, 1] - 2 * matrix[0, 1])
    made = AreaDifference(n=n, events=events, level=level, first=areas[0], second=areas[1], difference=gap)
    if spread <= 1e-15:
        return replace(made, reason="the difference has no variance")
    error = math.sqrt(spread)
    p = math.erfc(abs(gap / error) / math.sqrt(2.0))
    return replace(made, standard_error=error, low=gap - half * error, high=gap + half * error, z=gap / error, p=p)


def auc_of_counts(events: npt.ArrayLike, others: npt.ArrayLike, level: float = 0.95) -> Area:
    """The area from a table of grades: events and others of each grade, grades rising.

    events, others: whole counts, shape (grades,). As `auc` of the rows that the table stands for.
    """
    with_it, without = (np.asarray(counts, dtype=np.int64) for counts in (events, others))
    if with_it.ndim != 1 or with_it.shape != without.shape or (with_it < 0).any() or (without < 0).any():
        raise ValueError("events and others must be whole counts of 0 or more, one a grade, of equal length.")
    grades = np.arange(len(with_it))
    score = np.concatenate([np.repeat(grades, with_it), np.repeat(grades, without)])
    outcome = np.repeat([1, 0], [int(with_it.sum()), int(without.sum())])
    return auc(outcome, score, level)


def _checked(outcome: npt.ArrayLike, score: npt.ArrayLike) -> tuple[npt.NDArray[np.bool_], FloatArray]:
    y, values = np.asarray(outcome, dtype=np.float64), np.asarray(score, dtype=np.float64)
    if y.ndim != 1 or y.shape != values.shape:
        raise ValueError(f"outcome and score must be lists of equal length, not {y.shape} and {values.shape}.")
    if not np.isin(y, (0.0, 1.0)).all():
        raise ValueError("outcome must be 0 or 1 in every row; leave rows where it is missing out beforehand.")
    if np.isnan(values).any():
        raise ValueError("score is missing in some rows; leave them out beforehand and count them.")
    return y.astype(bool), values


def _components(y: npt.NDArray[np.bool_], score: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Of each row with the outcome the share of the others below it, and of each other the share of those above."""
    from scipy.stats import rankdata

    whole, own, other = rankdata(score), rankdata(score[y]), rankdata(score[~y])
    with_it = (whole[y] - own) / len(other)
    without = 1.0 - (whole[~y] - other) / len(own)
    return with_it, without


def _variance(with_it: list[FloatArray], without: list[FloatArray]) -> FloatArray | None:
    m, k = len(with_it[0]), len(without[0])
    if min(m, k) < 2:
        return None
    made = np.atleast_2d(np.cov(np.stack(with_it))) / m + np.atleast_2d(np.cov(np.stack(without))) / k
    return np.asarray(made, dtype=np.float64)


def _logit_limits(estimate: float, half: float) -> tuple[float | None, float | None]:
    if not 0 < estimate < 1:
        return None, None
    centre, width = math.log(estimate / (1 - estimate)), half / (estimate * (1 - estimate))
    return 1 / (1 + math.exp(width - centre)), 1 / (1 + math.exp(-width - centre))


def _warning(events: int, n: int) -> str | None:
    fewest = min(events, n - events)
    if fewest >= FEW:
        return None
    which = "with" if events == fewest else "without"
    return f"only {fewest} {which} the outcome: fewer than {FEW}, the interval is not to be relied on"


def _bootstrap(
    y: npt.NDArray[np.bool_],
    score: FloatArray,
    cluster: npt.NDArray[np.generic],
    seed: int,
    replicates: int,
    level: float,
) -> tuple[float | None, float | None]:
    """Percentile limits; the same whatever the order of rows or the labels of clusters."""
    _, code = np.unique(cluster, return_inverse=True)
    size = int(code.max(initial=-1)) + 1
    if size < 2 or not 0 < y.sum() < len(y):
        return None, None
    place = _told_by_content(y, score, code, size)[code]
    _, level_of = np.unique(score, return_inverse=True)
    order = np.argsort(level_of, kind="stable")
    place, own = place[order], y[order].astype(np.float64)
    starts = np.flatnonzero(np.diff(level_of[order], prepend=-1))
    generator = np.random.Generator(np.random.PCG64(seed))
    at_once = max(1, CELLS_AT_ONCE // max(size, len(y)))
    found = []
    for start in range(0, replicates, at_once):
        here = min(at_once, replicates - start)
        weight = generator.multinomial(size, np.full(size, 1 / size), size=here)[:, place].astype(np.float64)
        with_it = np.add.reduceat(weight * own, starts, axis=1)
        without = np.add.reduceat(weight * (1 - own), starts, axis=1)
        below = np.cumsum(without, axis=1) - without / 2
        pairs = with_it.sum(axis=1) * without.sum(axis=1)
        kept = pairs > 0
        found.append((with_it * below).sum(axis=1)[kept] / pairs[kept])
    areas = np.concatenate(found)
    if len(areas) < 2 or areas.min() == areas.max():
        return None, None
    low, high = np.quantile(areas, [(1 - level) / 2, (1 + level) / 2], method="weibull")
    return float(low), float(high)


def _told_by_content(
    y: npt.NDArray[np.bool_], score: FloatArray, code: npt.NDArray[np.int64], size: int
) -> npt.NDArray[np.int64]:
    """A place for each cluster that depends on what is in it alone, so that a seed gives the same resamples."""
    held: list[list[tuple[float, bool]]] = [[] for _ in range(size)]
    for at, value, event in zip(code.tolist(), score.tolist(), y.tolist(), strict=True):
        held[at].append((value, event))
    keys = [tuple(sorted(rows)) for rows in held]
    place = np.empty(size, dtype=np.int64)
    place[sorted(range(size), key=keys.__getitem__)] = np.arange(size)
    return place
