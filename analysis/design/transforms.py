"""What a formula may do to a column, each remembering what it learnt so that new rows are coded alike."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from analysis.design.splines import basis, knots_of


def transforms() -> dict[str, Any]:
    """The transforms by the name they have in a formula; the formula library is imported here."""
    from formulaic.materializers.types import FactorValues
    from formulaic.utils.stateful_transforms import stateful_transform

    def spline(data: Any, count: int = 4, _state: Any = None) -> Any:
        values = np.asarray(data, dtype=np.float64)
        if "knots" not in _state:
            _state["knots"] = knots_of(values, count, name=getattr(data, "name", None) or "the column")
        columns = basis(values, _state["knots"])
        return FactorValues(
            {str(at + 1): columns[:, at] for at in range(columns.shape[1])},
            kind="numerical",
            spans_intercept=False,
            format="{name}[{field}]",
            encoded=False,
        )

    def per(data: Any, unit: float) -> Any:
        return data / unit

    def bands(data: Any, *cuts: float) -> Any:
        edges = [-np.inf, *cuts, np.inf]
        return pd.Series(pd.cut(data, edges, right=False, labels=band_labels(cuts)), index=data.index)

    return {made.__name__: stateful_transform(made) for made in (spline, per, bands)}


def band_labels(cuts: tuple[float, ...]) -> list[str]:
    """The bands between cuts that are closed below, in words."""
    first, *_ = shown = [f"{cut:g}" for cut in cuts]
    between = [f"{low} to under {high}" for low, high in pairwise(shown)]
    return [f"under {first}", *between, f"{shown[-1]} and over"]
