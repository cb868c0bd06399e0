"""Whether a Cox model has no maximum: some mix of columns is highest in every row that has the event."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray
from analysis.estimators.survival.risk_sets import RiskSets, at_risk_sums

BOUND, TOLERANCE = 1.0, 1e-7


def monotone(sets: RiskSets, x: FloatArray, names: Sequence[str]) -> list[str]:
    """The names of the columns whose coefficients have no finite estimate; none when a maximum exists.

    x: rows in the order of `sets`. By linear programming over c (between -1 and 1) and of each moment M, the highest
    x c among those at risk: every event's x c has to be M. Where some other is lower, the likelihood rises along c for
    ever (Bryson MC, Johnson ME, Technometrics 1981;23:381-383, from memory).
    """
    from scipy import sparse
    from scipy.optimize import linprog

    length = np.abs(x - x.mean(axis=0)).max(axis=0)
    scaled = (x - x.mean(axis=0)) / np.where(length > 0, length, 1.0)
    rows, p, moments = len(x), x.shape[1], len(sets.moment)
    # A row's latest moment bounds it; earlier moments, which hold more rows, are bounded by the later ones.
    at, seen = sets.first_moment, sets.first_moment < sets.ends
    own = np.flatnonzero(seen)
    lower = sparse.hstack([sparse.csr_matrix(scaled[own]), _unit(at[own], moments, -1.0)])
    on = np.flatnonzero(sets.event)
    upper = sparse.hstack([sparse.csr_matrix(-scaled[on]), _unit(sets.moment_of_row[on], moments, 1.0)])
    same = np.setdiff1d(np.arange(moments - 1), sets.moment_bounds[1:-1] - 1)
    chain = sparse.hstack(
        [sparse.csr_matrix((len(same), p)), _unit(same, moments, 1.0) + _unit(same + 1, moments, -1.0)]
    )  # fmt: skip
    counts = at_risk_sums(sets, np.ones(rows))
    gain = np.concatenate([-at_risk_sums(sets, scaled).sum(axis=0), counts])
    limits = sparse.vstack([lower, upper, chain]).tocsr()
    bounds = [(-BOUND, BOUND)] * p + [(None, None)] * moments
    found = linprog(-gain, A_ub=limits, b_ub=np.zeros(limits.shape[0]), bounds=bounds, method="highs")
    if found.x is None or -found.fun <= TOLERANCE * rows:
        return []
    return [name for name, value in zip(names, found.x[:p], strict=True) if abs(value) > TOLERANCE]


def _unit(place: npt.NDArray[Any], columns: int, value: float) -> Any:
    from scipy import sparse

    many = len(place)
    return sparse.csr_matrix((np.full(many, value), (np.arange(many), place)), shape=(many, columns))
