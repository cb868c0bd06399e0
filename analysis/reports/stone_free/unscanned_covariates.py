"""What the models of the unscanned know of each unit: recorded before the outcome, of the side that speaks for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import NOT_RECORDED
from analysis.reports.request.grouping import IntArray

FloatArray = npt.NDArray[np.float64]
POOLED_BELOW = 10
NUMBERS = {"age_years": "age", "burden": "burden", "year": "year"}
LEVELS = ("sex", "technique", "pre_stented", "operator")
BURDEN = ("cumulative_mm", "largest_mm")

MISSING_IN_WORDS = (
    "a number not recorded counts as the median, with an indicator of its own; a level not recorded is a level; "
    f"levels of fewer than {POOLED_BELOW} are pooled, and an indicator of fewer is left out"
)


@dataclass(frozen=True, eq=False)
class Covariates:
    """matrix: shape (units, columns), none missing. names: of the columns. spoken: what they are made of, in words."""

    matrix: FloatArray
    names: tuple[str, ...]
    spoken: tuple[str, ...]


def covariates_of(side_id: IntArray, sides: pd.DataFrame) -> Covariates:
    """Age, sex, burden, technique, stented before, year and operator of each unit.

    side_id: of each unit the side that speaks for it. sides: the cohort with these columns; one that is not there is
    left out. burden: the cumulative diameter, else the largest. The commonest level of each is the reference; levels of
    fewer than ten units are pooled into `other`, and that joins the reference when it is no larger.
    """
    rows = sides.set_index("side_id").reindex(side_id)
    burden = [rows[name].astype("float64") for name in BURDEN if name in rows.columns]
    if burden:
        rows = rows.assign(burden=burden[0].fillna(burden[-1]).to_numpy())
    columns: list[FloatArray] = []
    names: list[str] = []
    spoken = []
    for name, words in NUMBERS.items():
        if name in rows.columns:
            _number(rows[name], words, columns, names)
            spoken.append(words)
    for name in LEVELS:
        if name in rows.columns:
            _levels(rows[name], name, columns, names)
            spoken.append({"pre_stented": "stented before"}.get(name, name))
    matrix = np.column_stack(columns) if columns else np.zeros((len(rows), 0))
    return Covariates(matrix, tuple(names), tuple(spoken))


def _number(values: pd.Series, words: str, columns: list[FloatArray], names: list[str]) -> None:
    numbers = values.to_numpy(dtype=np.float64, na_value=np.nan)
    missing = np.isnan(numbers)
    middle = float(np.median(numbers[~missing])) if not missing.all() else 0.0
    columns.append(np.where(missing, middle, numbers))
    names.append(words)
    if min(missing.sum(), (~missing).sum()) >= POOLED_BELOW:
        columns.append(missing.astype(np.float64))
        names.append(f"{words} not recorded")


def _levels(values: pd.Series, name: str, columns: list[FloatArray], names: list[str]) -> None:
    texts = values.astype(object).where(values.notna(), NOT_RECORDED).astype(str).to_numpy(dtype=object)
    levels, counts = np.unique(texts.astype(str), return_counts=True)
    if not len(levels):
        return
    reference = levels[int(np.argmax(counts))]
    few = set(levels[counts < POOLED_BELOW].tolist())
    pooled = np.array(["other" if each in few else each for each in texts], dtype=object)
    for level in _kept(pooled, str(reference)):
        columns.append((pooled == level).astype(np.float64))
        names.append(f"{name}={level}")


def _kept(pooled: npt.NDArray[np.object_], reference: str) -> Sequence[str]:
    levels, counts = np.unique(pooled.astype(str), return_counts=True)
    return [str(level) for level, n in zip(levels, counts, strict=True) if level != reference and n >= POOLED_BELOW]
