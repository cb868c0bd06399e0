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
    chance alone would make them agree always (both used one category only). Raises ValueError for a table that is
    not square or holds what is no count.
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

    made = cohens_kappa(counts, wt=None if weights == "none" else weights)
    error = float(np.sqrt(made.var_kappa))
    half = normal_quantile(level=level) * error
    estimate = float(made.kappa)
    return Agreement(estimate, max(-1.0, estimate - half), min(1.0, estimate + half), error, n, observed, method, level)
