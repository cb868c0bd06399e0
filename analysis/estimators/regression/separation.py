"""Whether a yes/no outcome is separated: some mix of columns tells it without fail, so that no maximum exists."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BOUND, TOLERANCE = 1.0, 1e-7


def separating(outcome: npt.ArrayLike, x: FloatArray, names: Sequence[str]) -> list[str]:
    """The names of the columns whose coefficients have no finite estimate; none when a maximum exists.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p). By linear programming (Konis K, doctoral thesis, University of
    Oxford 2007; Albert A, Anderson JA, Biometrika 1984;71:1-10 for the conditions): maximise the sum of s_i x_i b over
    -1 <= b <= 1 with every s_i x_i b >= 0, where s_i is 1 for a yes and -1 for a no. Where the maximum is above zero
    the outcome is separated, and the columns with b away from zero are those without an estimate.
    """
    from scipy.optimize import linprog

    sign = np.where(np.asarray(outcome, dtype=np.float64) > 0, 1.0, -1.0)
    length = np.abs(x).max(axis=0)
    signed = x / np.where(length > 0, length, 1.0) * sign[:, None]
    rows = np.unique(np.round(signed, 12), axis=0)  # rows that are alike say it once
    found = linprog(-signed.sum(axis=0), A_ub=-rows, b_ub=np.zeros(len(rows)), bounds=(-BOUND, BOUND), method="highs")
    if found.x is None or -found.fun <= TOLERANCE * len(signed):
        return []
    return [name for name, value in zip(names, found.x, strict=True) if abs(value) > TOLERANCE]
