"""Kept frames to pandas, typed by declaration and never by the values that happen to be there.

Whole numbers that may be missing are Int64, keys that may not int64; measured numbers float64; dates datetime64[s];
true or false boolean; codes categories whose levels are those of the list, in its order; text string.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa

from analysis.cohort.coded import Coded
from analysis.cohort.columns import cohort_columns
from analysis.cohort.outcome_columns import OUTCOME_COLUMNS

ALWAYS_THERE = frozenset({"side_id", "patient_id", "operation_id", "renal_unit_id", "day_number", "year"})


def cohort_frame(kept: Coded) -> pd.DataFrame:
    """The cohort frame as pandas, its codes as categories."""
    holds = {name: "id" if name in ALWAYS_THERE else column.holds for name, column in cohort_columns().items()}
    return _frame(kept, holds, _category)


def outcome_frame(name: str, kept: Coded) -> pd.DataFrame:
    """One of the frames from which outcomes are judged, as pandas, its words as strings."""
    return _frame(kept, OUTCOME_COLUMNS[name], _strings)


def typed_frame(table: pa.Table, holds: dict[str, str]) -> pd.DataFrame:
    """A table with its columns as declared, name to what it holds: id, whole, number, flag, date or text."""
    return _frame(Coded(table, {}), holds, _strings)


def _frame(kept: Coded, holds: dict[str, str], worded: Callable[[Any, tuple[str, ...]], Any]) -> pd.DataFrame:
    columns = {}
    for name, held in holds.items():
        values = kept.table.column(name)
        levels = kept.levels.get(name)
        columns[name] = _values(values, held) if levels is None else worded(values.to_numpy(), tuple(levels))
    return pd.DataFrame(columns, copy=False)


def _values(values: pa.ChunkedArray, held: str) -> Any:
    match held:
        case "id":
            return values.to_numpy()
        case "whole" | "key":
            return pd.arrays.IntegerArray(*_filled(values, 0, np.int64))
        case "flag":
            return pd.arrays.BooleanArray(*_filled(values, False, np.bool_))
        case "number":
            # Missing comes as not-a-number.
            return values.to_numpy()
        case "date":
            return values.cast(pa.timestamp("s")).to_numpy()
        case _:
            return pd.array(values.to_numpy(), dtype=pd.StringDtype(storage="python"))


def _filled(values: pa.ChunkedArray, blank: Any, kind: type) -> tuple[Any, Any]:
    if not values.null_count:
        return np.array(values.to_numpy(), dtype=kind), np.zeros(len(values), dtype=bool)
    return np.array(values.fill_null(blank).to_numpy(), dtype=kind), np.array(values.is_null().to_numpy())


@lru_cache(maxsize=512)
def _category_type(levels: tuple[str, ...]) -> pd.CategoricalDtype:
    return pd.CategoricalDtype(pd.Index(levels, dtype=object), ordered=False)


def _category(numbers: Any, levels: tuple[str, ...]) -> pd.Categorical:
    return pd.Categorical.from_codes(numbers, dtype=_category_type(levels), validate=False)


def _strings(numbers: Any, levels: tuple[str, ...]) -> Any:
    # A missing value is number -1, which takes the last entry.
    words = np.array([*levels, pd.NA], dtype=object)
    return pd.array(words[numbers], dtype=pd.StringDtype(storage="python"))
