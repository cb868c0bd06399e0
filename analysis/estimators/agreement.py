"""How far two people, or a person and a rule, agree beyond chance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile

Weights = Literal["none", "linear", "quadratic"]

METHODS: dict[Weights, str] = {
    "none": "Cohen's kappa",
    "linear": "weighted kappa, linear weights",
    "quadratic": "weighted kappa, quadratic weights",
}


@dataclass(frozen=True)
class Agreement:
    """estimate: kappa; low and high: normal limits from the large-sample standard error, cut to -1 and 1.

    observed: share of pairs that agree exactly. n: pairs. reason: why there is no estimate.
    """

    estimate: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    n: int
    observed: float | None
    method: str
    level: float
    reason: str | None = None


def kappa(table: npt.ArrayLike, *, weights: Weights = "none", level: float = 0.95) -> Agreement:
    """Kappa of two graders over the same things.

    table: shape (k, k), whole counts; row i and column j are the i-th and j-th category of the first and the second
    grader, in the order of the categories. weights: `linear` counts a disagreement by the steps between the two
    grades, `quadratic` by their square, `none` counts all alike.

    Cohen J, Educ Psychol Meas 1960;20:37-46; weighted, Psychol Bull 1968;70:213-220; standard error Fleiss JL, Cohen J,
    Everitt BS, Psychol Bull 1969;72:323-327 (as statsmodels has it). No estimate when there is no pair, or when
    chance alone would make them agree always (both used one category only); no limits where every pair agrees. Raises
    ValueError for a table that is not square or holds what is no count.
    """
    counts = np.asarray(table, dtype=np.float64)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.shape[0] < 2:
        raise ValueError(f"A table of two graders is square, two categories or more; its shape is {counts.shape}.")
    if (counts < 0).any() or (counts % 1 != 0).any():
        raise ValueError("A table of two graders holds whole counts of 0 or more.")
    n, method = int(counts.sum()), METHODS[weights]
    observed = float(np.trace(counts) / n) if n else None

    def without(reason: str) -> Agreement:
        return Agreement(None, None, None, None, n, observed, method, level, reason)

    if not n:
        return without("nobody was graded by both")
    used = (counts.sum(axis=0) > 0) | (counts.sum(axis=1) > 0)
    if used.sum() < 2:
        return without("both used one grade only, so that chance alone makes them agree")
    from statsmodels.stats.inter_rater import cohens_kappa

    with np.errstate(divide="ignore", invalid="ignore"):  # of a single pair it divides by 0 for a test nobody asked
        made = cohens_kappa(counts, wt=None if weights == "none" else weights)
    error = float(np.sqrt(max(made.var_kappa, 0.0)))
    half = normal_quantile(level=level) * error
    estimate = float(made.kappa)
    if not error:
        return Agreement(estimate, None, None, error, n, observed, method, level, "no spread to judge an interval by")
    return Agreement(estimate, max(-1.0, estimate - half), min(1.0, estimate + half), error, n, observed, method, level)


def fleiss_kappa(counts: npt.ArrayLike, *, level: float = 0.95) -> Agreement:
    """Kappa of several graders who need not be the same from one thing to the next.

    counts: shape (things, categories), how many graders put each thing in each category; every thing graded equally
    often, at least twice. n is the number of things.

    Fleiss JL, Psychol Bull 1971;76:378-382 (as statsmodels has it). The limits are from the standard error by leaving
    out one thing at a time (jackknife: Efron B, Stein C, Ann Stat 1981;9:586-596), because the classic one holds only
    where kappa is 0. No estimate without things or when one category alone was used; no limits below 3 things. Raises
    ValueError for a table that holds no counts or things graded unequally often.
    """
    table = np.asarray(counts, dtype=np.float64)
    method = "Fleiss' kappa, jackknife limits"
    if table.ndim != 2 or (table < 0).any() or (table % 1 != 0).any():
        raise ValueError("Grades are counted in a table, things by categories, of whole numbers of 0 or more.")
    graders = table.sum(axis=1)
    if len(table) and ((graders != graders[0]).any() or graders[0] < 2):
        raise ValueError("Everything has to be graded equally often, at least twice.")
    n = len(table)
    observed = float(_pairs_alike(table).mean()) if n else None
    if not n or (table.sum(axis=0) > 0).sum() < 2:
        why = "nothing was graded" if not n else "one grade only was used, so that chance alone makes them agree"
        return Agreement(None, None, None, None, n, observed, method, level, why)
    from statsmodels.stats.inter_rater import fleiss_kappa as computed

    estimate = float(computed(table))
    left_out = _leaving_one_out(table)
    if n < 3 or not np.isfinite(left_out).all():
        return Agreement(estimate, None, None, None, n, observed, method, level, "too few things for limits")
    error = float(np.sqrt((n - 1) / n * ((left_out - left_out.mean()) ** 2).sum()))
    half = normal_quantile(level=level) * error
    return Agreement(estimate, max(-1.0, estimate - half), min(1.0, estimate + half), error, n, observed, method, level)


def _pairs_alike(table: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Of each thing the share of pairs of graders that agree."""
    graders = table.sum(axis=1)
    alike: npt.NDArray[np.float64] = (table * (table - 1)).sum(axis=1) / (graders * (graders - 1))
    return alike


def _leaving_one_out(table: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Fleiss' kappa without each thing in turn; NaN where what is left holds one category alone."""
    alike = _pairs_alike(table)
    rest = len(table) - 1
    observed = (alike.sum() - alike) / max(rest, 1)
    shares = (table.sum(axis=0) - table) / (max(rest, 1) * table.sum(axis=1)[0])
    chance = (shares**2).sum(axis=1)
    made: npt.NDArray[np.float64] = np.divide(
        observed - chance, 1 - chance, out=np.full(len(table), np.nan), where=chance < 1 - 1e-12
    )
    return made
