"""How many equally weighted rows carry as much as these weighted ones."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt


def effective_size(weights: npt.ArrayLike) -> float:
    """(sum w)^2 / sum w^2; 0 without weight. Kish L, Survey Sampling, Wiley 1965. weights: shape (rows,), 0 or more."""
    w = np.asarray(weights, dtype=np.float64)
    squares = float(w @ w)
    return float(w.sum()) ** 2 / squares if squares > 0 else 0.0
