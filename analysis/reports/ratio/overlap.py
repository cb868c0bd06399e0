"""Whether the rows at different values of the exposure are alike enough to be compared: overlap, and its lack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from analysis.reports.ratio.exposure_values import distinct, same_value

FEW = 10
"""Standardised differences are taken between values with at least so many rows; of fewer they are mostly noise."""
MUCH = 0.25
Parts = Mapping[Any, np.ndarray[tuple[int], np.dtype[np.bool_]]]


@dataclass(frozen=True)
class Overlap:
    """How one column lies over the values of the exposure.

    level: of a column of codes the code whose share is told, else empty (a mean is told). by_value: the mean or share
    at each value, None where nobody has the column. n, unknown: rows with and without it. largest: the largest
    standardised difference between two values, and between which; None where none can be worked out.
    """

    column: str
    level: str
    by_value: Mapping[Any, float | None]
    n: int
    unknown: int
    largest: float | None
    between: tuple[Any, Any] | None


def parts_of(frame: pd.DataFrame, column: str, values: Sequence[Any]) -> dict[Any, np.ndarray[Any, Any]]:
    """Of each value of the exposure, which rows have it."""
    return {value: same_value(frame[column], value) for value in values}


def overlap(frame: pd.DataFrame, column: str, parts: Parts) -> list[Overlap]:
    """A row for a number, one for each level of a code (of yes and no for yes alone).

    Standardised difference: of means, over the root of the mean of the two variances; of shares, likewise with
    p (1 - p). Austin PC, Stat Med 2009;28:3083-3107.
    """
    values = frame[column]
    known = values.notna().to_numpy(dtype=bool)
    unknown = int((~known).sum())
    if _is_number(values):
        numbers = values.to_numpy(dtype=np.float64, na_value=np.nan)
        return [_row(column, "", numbers, known, parts, unknown)]
    levels = distinct(values)
    if set(levels) == {"yes", "no"}:
        levels = ["yes"]
    return [
        _row(column, str(level), same_value(values, level).astype(np.float64), known, parts, unknown)
        for level in levels
    ]


def apart(frame: pd.DataFrame, column: str, parts: Parts) -> list[tuple[Any, Any]]:
    """Pairs of values between which a column does not overlap: no code in common, or ranges that do not meet."""
    values = frame[column]
    held: dict[Any, Any] = {}
    for value, own in parts.items():
        mine = values[own].dropna()
        if not len(mine):
            continue
        if _is_number(values):
            held[value] = (float(mine.min()), float(mine.max()))
        else:
            held[value] = set(mine.astype(str))
    return [pair for pair in combinations(held, 2) if not _meet(held[pair[0]], held[pair[1]])]


def never_overlaps(frame: pd.DataFrame, column: str, parts: Parts) -> bool:
    """Whether no two values of the exposure have anything of a column in common, though it varies."""
    met = [value for value, own in parts.items() if frame.loc[own, column].notna().any()]
    pairs = len(met) * (len(met) - 1) // 2
    return pairs > 0 and len(apart(frame, column, parts)) == pairs


def alone_by(frame: pd.DataFrame, column: str, exposure: str) -> bool:
    """Whether each code of a column (each operator) goes with one value of the exposure only, and there are several
    codes: the effect of the exposure cannot then be told from that of the column."""
    known = frame[[column, exposure]].dropna()
    many = known.groupby(known[column].astype(str))[exposure].nunique()
    return len(many) > 1 and int(many.max()) == 1


def _meet(first: Any, second: Any) -> bool:
    if isinstance(first, set):
        return bool(first & second)
    return bool(first[0] <= second[1] and second[0] <= first[1])


def _is_number(values: pd.Series) -> bool:
    return pd.api.types.is_numeric_dtype(values.dtype) and not isinstance(values.dtype, pd.CategoricalDtype)


def _row(
    column: str,
    level: str,
    numbers: np.ndarray[Any, Any],
    known: np.ndarray[Any, Any],
    parts: Parts,
    unknown: int,
) -> Overlap:
    by_value: dict[Any, float | None] = {}
    moments: dict[Any, tuple[float, float]] = {}
    for value, own in parts.items():
        mine = numbers[own & known]
        by_value[value] = float(mine.mean()) if len(mine) else None
        if len(mine) >= FEW:
            spread = float(mine.mean() * (1 - mine.mean())) if level else float(mine.var(ddof=1))
            moments[value] = float(mine.mean()), spread
    largest, between = None, None
    for first, second in combinations(moments, 2):
        (m1, v1), (m2, v2) = moments[first], moments[second]
        width = np.sqrt((v1 + v2) / 2)
        gap = abs(m1 - m2) / width if width > 0 else (0.0 if m1 == m2 else np.inf)
        if largest is None or gap > largest:
            largest, between = float(gap), (first, second)
    return Overlap(column, level, by_value, int(known.sum()), unknown, largest, between)
