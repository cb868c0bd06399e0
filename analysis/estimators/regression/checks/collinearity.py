"""How much the terms of a model say the same: variance inflation, of terms with several columns too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray

MUCH = 10.0**0.5
"""Of the root for one column: a variance inflated ten times is the usual mark [from memory; a convention]."""


@dataclass(frozen=True, kw_only=True)
class Inflation:
    """factor: the generalised variance inflation. columns: of the term. root: factor^(1 / (2 columns)), by how much
    the term's limits are widened, to be compared over terms. marked: the root is above sqrt(10). reason: why none."""

    term: str
    columns: int
    factor: float | None
    root: float | None
    marked: bool
    reason: str | None = None


def variance_inflation(
    x: FloatArray, terms: Mapping[str, npt.ArrayLike], *, weight: npt.ArrayLike | None = None
) -> tuple[Inflation, ...]:
    """The generalised variance inflation of each term.

    x: shape (rows, p), the intercept first. terms: of each its places in x. weight: of the rows, shape (rows,): in a
    logistic model p (1 - p), so that it is the inflation in the model as fitted; none is the classical one. Fox J,
    Monette G, J Am Stat Assoc 1992;87:178-183: det(R_term) det(R_others) / det(R), R the correlations of the columns.
    A term of one column has 1 / (1 - R^2). One term alone has 1.
    """
    w = np.ones(len(x)) if weight is None else np.asarray(weight, dtype=np.float64)
    share = w / w.sum()
    centred = (x[:, 1:] - share @ x[:, 1:]) * np.sqrt(share)[:, None]
    size = np.sqrt((centred**2).sum(axis=0))
    scaled = centred / np.where(size > 0, size, 1.0)
    correlation = scaled.T @ scaled
    found = []
    for term, places in terms.items():
        own = np.atleast_1d(np.asarray(places, dtype=np.int64)) - 1
        others = np.setdiff1d(np.arange(len(correlation)), own)
        parts = [_log_determinant(correlation[np.ix_(at, at)]) for at in (own, others, np.arange(len(correlation)))]
        if None in parts or not size.all():
            reason = "its columns cannot be told apart from others of the model"
            found.append(Inflation(term=term, columns=len(own), factor=None, root=None, marked=True, reason=reason))
            continue
        of_own, of_others, of_all = (float(part or 0.0) for part in parts)
        factor = float(np.exp(of_own + of_others - of_all))
        root = factor ** (1 / (2 * len(own)))
        found.append(Inflation(term=term, columns=len(own), factor=factor, root=root, marked=root > MUCH))
    return tuple(found)


def _log_determinant(matrix: FloatArray) -> float | None:
    if not len(matrix):
        return 0.0
    sign, size = np.linalg.slogdet(matrix)
    return float(size) if sign > 0 and np.linalg.eigvalsh(matrix)[0] > 1e-12 else None
