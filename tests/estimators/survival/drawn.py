"""Invented follow-up for tests: times with ties, events of two causes, rows that come in pairs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from hypothesis import strategies as st


@dataclass(frozen=True, eq=False)
class Followed:
    """time, cause (0, 1, 2), x (two columns) and pair of each row."""

    time: np.ndarray
    cause: np.ndarray
    x: np.ndarray
    pair: np.ndarray

    @property
    def event(self) -> np.ndarray:
        """Of cause 1."""
        return self.cause == 1


def followed(seed: int, n: int = 120, *, ties: int = 30) -> Followed:
    """Times from 1 to `ties`, so that many are alike."""
    rng = np.random.default_rng(seed)
    x = np.column_stack([rng.integers(0, 2, n), rng.normal(size=n)]).astype(float)
    time = 1 + np.floor(rng.random(n) * ties) + 0.0
    cause = rng.choice(3, n, p=(0.4, 0.4, 0.2))
    return Followed(time, cause, x, np.arange(n) // 2)


rows = st.lists(st.tuples(st.integers(1, 12), st.integers(0, 2)), min_size=2, max_size=40)
"""Time and cause."""
