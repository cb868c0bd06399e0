"""Columns that say the same: refused before a search that would give numbers out of rounding errors."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.design.ranks import name_dependent
from analysis.estimators.regression.fitted import FloatArray, NotEstimable


def refuse_dependent(x: FloatArray, names: Sequence[str]) -> None:
    """Raise NotEstimable when a column of x, shape (rows, p), is a linear combination of those before it."""
    found = name_dependent(x, names)
    if found:
        raise NotEstimable(
            f"The columns {', '.join(found)} say the same as others of the model (a linear combination) in these rows, "
            "so that their effects cannot be told apart. Leave one of them out."
        )
