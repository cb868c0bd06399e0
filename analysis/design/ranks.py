"""Columns of a matrix that say the same as others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.design.one_thread import one_thread

FloatArray = npt.NDArray[np.float64]
TOLERANCE = 1e-9


def name_dependent(x: FloatArray, names: Sequence[str]) -> list[str]:
    """The names of columns that are a linear combination of those before them, none when all stand alone.

    x: shape (rows, columns). Columns are brought to length 1 first, so that no unit of measurement decides; each one is
    then compared with what is left of it beside those before (a pivotless QR).
    """
    length = np.sqrt((x**2).sum(axis=0))
    scaled = x / np.where(length > 0, length, 1.0)
    # Centred on the intercept where there is one, a nearly constant column still counts as a column of its own.
    with one_thread():
        left = np.abs(np.diag(np.linalg.qr(scaled, mode="r")))
    if len(left) < x.shape[1]:
        left = np.append(left, np.zeros(x.shape[1] - len(left)))
    return [name for name, rest in zip(names, left, strict=True) if rest < TOLERANCE]
