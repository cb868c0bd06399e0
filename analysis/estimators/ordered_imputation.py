"""Multiple imputation of an ordered class, drawn only from the classes that what was seen leaves possible."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.imperfect_study import ImperfectKind
from analysis.estimators.observation_model import standard_design
from analysis.estimators.ordered_logit import (
    IntArray,
    class_chances,
    fit_ordered_logit,
)
from analysis.estimators.proportions import FloatArray

BoolArray = npt.NDArray[np.bool_]
FULLY_SEEN, NOTHING_SEEN = -1, -2
"""Codes of `seen`: by a study that could show every class; by no study at all."""


@dataclass(frozen=True, eq=False)
class Imputed:
    """classes: shape (imputations, rows), a class for each row, those that were certain the same in all; None, with
    the reason, where there is no model. modelled: rows that the model learnt from. covariates: columns in it.
    drawn: rows whose class was not certain.
    """

    classes: npt.NDArray[np.int8] | None
    modelled: int
    drawn: int
    covariates: tuple[str, ...]
    reason: str | None


def impute_classes(
    *,
    lowest: npt.ArrayLike,
    highest: npt.ArrayLike,
    shown_highest: npt.ArrayLike,
    seen: npt.ArrayLike,
    left_out: npt.ArrayLike,
    cluster: npt.ArrayLike,
    covariates: FloatArray,
    names: tuple[str, ...],
    classes: int,
    imputations: int = 20,
    seed: int = 1,
) -> Imputed:
    """Draw the class of each row, `imputations` times.

    One row a unit. lowest, highest: the classes left possible, whole, 0 to classes - 1. shown_highest: the highest
    class that what was shown may be, 0 if nothing was; read for imperfect studies. seen: FULLY_SEEN for a row whose
    study could show every class (its range may still be wide: a size not told), NOTHING_SEEN for one without a
    study, else a code from 0 of the kind of imperfect study, which shows that something is there and never that
    nothing is; kinds told apart are estimated apart, and few rows of a kind lean towards more being there. left_out:
    rows the model must not learn from and whose class is still drawn when it is open. cluster: whole codes or words.
    covariates: shape (rows, columns), none missing; names: of its columns.

    The ordered logistic model (``ordered_logit``) is fitted to the rows fully seen, and for each imputation anew to a
    resample of their clusters, whose coefficients stand for a draw from their posterior (Rubin DB, Schenker N, J Am
    Stat Assoc 1986;81:366-374; Heitjan DF, Little RJA, Appl Stat 1991;40:13-29 [from memory]): draws from a normal
    law around one fit lean to the middle in small samples. A row fully seen or without a study is drawn from its
    chances among its possible classes. What an imperfect study shows keeps its own classes; where it shows nothing, a
    class is drawn from its chance times the chance of being overlooked, which is estimated for each kind from its own
    rows (``imperfect_study``): no class is ruled out, but what was not shown is less likely there. Kinds are taken to
    be chosen, and rows to be seen, by nothing but what the model holds. Draws follow the order of rows: sort them by
    a name of their own beforehand.
    When every row is certain no model is needed.
    """
    low, high = np.asarray(lowest, dtype=np.int64), np.asarray(highest, dtype=np.int64)
    shown = np.asarray(shown_highest, dtype=np.int64)
    kind, out = np.asarray(seen, dtype=np.int64), np.asarray(left_out, dtype=bool)
    if (low > high).any() or (low < 0).any() or (high >= classes).any():
        raise ValueError(f"The classes left possible must rise and lie within 0 to {classes - 1}.")
    if imputations < 2:
        raise ValueError(f"imputations is {imputations}; at least 2 are needed, 20 are usual.")
    if not np.isfinite(covariates).all():
        raise ValueError("covariates holds a value that is missing or infinite; give missing its own column.")
    open_ = low < high
    result = np.repeat(low.astype(np.int8)[None, :], imputations, axis=0)
    if not open_.any():
        return Imputed(result, 0, 0, (), None)
    teach = (kind == FULLY_SEEN) & ~out & ~((low == 0) & (high == classes - 1))
    if not teach.any():
        why = "no unit has a study that could show every size class, so there is nothing to learn from"
        return Imputed(None, 0, int(open_.sum()), (), why)
    design, kept = standard_design(covariates, names)
    x = design[:, 1:]
    if teach.sum() <= x.shape[1] + classes:
        why = f"{int(teach.sum())} units with a known size class are too few for a model of {x.shape[1]} covariates"
        return Imputed(None, int(teach.sum()), int(open_.sum()), (), why)
    fit = fit_ordered_logit(low[teach], high[teach], x[teach], classes)
    if not fit.converged:
        return Imputed(None, int(teach.sum()), int(open_.sum()), (), "the ordered logistic model did not converge")
    generator = np.random.Generator(np.random.PCG64(seed))
    chances = class_chances(fit.cuts, fit.slopes, x)
    place = np.arange(classes)[None, :]
    possible = (place >= low[:, None]) & (place <= high[:, None])
    imperfect = [
        (rows, ImperfectKind(chances[rows], low[rows], high[rows], shown[rows]))
        for rows in (np.flatnonzero(kind == code) for code in np.unique(kind[kind >= 0]))
    ]
    of_teaching = np.unique(np.asarray(cluster)[teach], return_inverse=True)[1]
    many = int(of_teaching.max()) + 1
    for made in result:
        times = np.bincount(generator.integers(0, many, many), minlength=many).astype(np.float64)[of_teaching]
        again = fit_ordered_logit(low[teach], high[teach], x[teach], classes, times=times, start=fit)
        chances = class_chances(again.cuts, again.slopes, x)
        made[open_] = _one_draw(chances, possible, imperfect, open_, generator)
    return Imputed(result, int(teach.sum()), int(open_.sum()), kept[1:], None)


def _one_draw(
    chances: FloatArray,
    possible: BoolArray,
    imperfect: list[tuple[IntArray, ImperfectKind]],
    open_: BoolArray,
    generator: np.random.Generator,
) -> npt.NDArray[np.int8]:
    """The class of each open row, from the chances of one draw of the parameters."""
    weights = np.where(possible, chances, 0.0)
    for rows, kind in imperfect:
        weights[rows] = kind.weights(chances[rows], generator)
    upto = np.cumsum(weights[open_], axis=1)
    target = generator.random(len(upto)) * upto[:, -1]
    drawn = (upto <= target[:, None]).sum(axis=1)
    allowed = possible[open_]
    last = allowed.shape[1] - 1 - np.argmax(allowed[:, ::-1], axis=1)
    return np.asarray(np.clip(drawn, np.argmax(allowed, axis=1), last), dtype=np.int8)
