"""Augmented weighting: right when either the model of the choice or that of the outcome is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.confounding.contrasts import Contrasts, contrasts_of, outcome_of
from analysis.estimators.confounding.propensity import Propensity, check_overlap
from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.regression.logistic import logistic

METHOD = "augmented inverse probability weighting, error from the influence function"


@dataclass(frozen=True, kw_only=True)
class DoublyRobust:
    """contrasts: of all rows, had all been in the index group or all in the other. outcome_model: in words."""

    contrasts: Contrasts
    n: tuple[int, int]
    events: tuple[int, int] | None
    outcome_model: str
    method: str = METHOD


def doubly_robust(
    outcome: npt.ArrayLike,
    score: Propensity,
    names: Sequence[str],
    *,
    x: FloatArray | None = None,
    cluster: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> DoublyRobust:
    """The average effect over all rows.

    outcome: shape (rows of score,), yes/no or a number. x: columns of the outcome models, intercept first, those of
    the score if None; names: of these. Each group has an outcome model of its own, logistic for yes/no and least
    squares for a number, predicted for everybody. With m1, m0 the predictions, the mean of the index group is that of
    m1 + t (y - m1) / e, of the other that of m0 + (1 - t)(y - m0) / (1 - e) (Robins JM, Rotnitzky A, Zhao LP, J Am Stat
    Assoc 1994;89:846-866; Bang H, Robins JM, Biometrics 2005;61:962-973, from memory). The variance is that of these
    terms over n (n - 1 in the divisor), summed within clusters times G/(G-1).

    Raises NotEstimable without overlap, when the outcome does not vary, or when a group's outcome model has no fit
    (which group, and why).
    """
    check_overlap(score.overlap, (0, 1))
    y, binary = outcome_of(outcome, len(score.index))
    columns = score.x if x is None else x
    terms, means = [], []
    for of, chance, who in ((score.index, score.scores, "index"), (~score.index, 1 - score.scores, "other")):
        predicted = _predicted(y, columns, of, names, binary=binary, who=who)
        term = predicted + of * (y - predicted) / chance
        means.append(float(term.mean()))
        terms.append(term - term.mean())
    return DoublyRobust(
        contrasts=contrasts_of(
            (means[0], means[1]),
            np.column_stack(terms),
            binary=binary,
            cluster=cluster,
            corrected=True,
            level=level,
        ),
        n=(int(score.index.sum()), int((~score.index).sum())),
        events=(int(y[score.index].sum()), int(y[~score.index].sum())) if binary else None,
        outcome_model="logistic, each group its own" if binary else "least squares, each group its own",
    )


def _predicted(
    y: FloatArray,
    x: FloatArray,
    of: npt.NDArray[np.bool_],
    names: Sequence[str],
    *,
    binary: bool,
    who: str,
) -> FloatArray:
    if not binary:
        b, _, rank, _ = np.linalg.lstsq(x[of] / np.abs(x).max(axis=0), y[of], rcond=None)
        if rank < x.shape[1]:
            raise NotEstimable(
                f"The outcome model of the {who} group has no fit: columns say the same of its {int(of.sum()):,} rows. "
                "Leave a column out, or use weights alone."
            )
        made: FloatArray = x / np.abs(x).max(axis=0) @ b
        return made
    try:
        fit = logistic(y[of], x[of], names, force=True)
    except (NotEstimable, np.linalg.LinAlgError) as fault:
        raise NotEstimable(
            f"The outcome model of the {who} group has no fit, so that there is no doubly robust estimate; weights "
            f"alone can be used. {fault}"
        ) from None
    chance: FloatArray = 1 / (1 + np.exp(-(x @ fit.coefficients)))
    return chance
