"""Which group each unit stands in, by one or two columns of the cohort."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import NOT_RECORDED, CohortColumn, nearest
from analysis.reports.request.splits import Split
from registry.schema.errors import GravelbookError

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]
SPOKEN_UNITS = {"[hnsf'U]": "HU", "cm[H2O]": "cmH2O", "Cel": "C", "d": "days", "year": ""}
UnitOf = Callable[[str], str]
"""The unit of a column's numbers, empty when they have none."""


@dataclass(frozen=True, eq=False)
class Grouping:
    """The groups in the order they are shown, and each unit's place among them.

    columns: what they are made of; labels: for each group the value of every column; codes: shape (units,),
    -1 for a unit outside the denominator whose group holds nobody inside.
    """

    columns: tuple[str, ...]
    labels: tuple[tuple[Any, ...], ...]
    codes: IntArray

    def __len__(self) -> int:
        return len(self.labels)

    def as_dicts(self) -> list[dict[str, Any]]:
        """Each group as column: value."""
        return [dict(zip(self.columns, label, strict=True)) for label in self.labels]

    def named(self) -> list[str]:
        """Each group in words, `everyone` when nothing was split."""
        return [", ".join(str(value) for value in label) or "everyone" for label in self.labels]


@dataclass(frozen=True, eq=False)
class Levels:
    """One column's levels and each side's place among them."""

    labels: tuple[Any, ...]
    codes: IntArray


def everyone(units: int) -> Grouping:
    """The one group of all."""
    return Grouping((), ((),), np.zeros(units, dtype=np.int64))


def grouped(
    side_id: IntArray,
    inside: BoolArray,
    sides: pd.DataFrame,
    splits: Sequence[Split],
    *,
    unit_of: UnitOf | None = None,
) -> Grouping:
    """Group units by columns of their sides of reference.

    side_id: of each unit, the side whose values speak for it. inside: whether the unit is inside the denominator.
    sides: the cohort, one row a side, with `side_id` and the columns named. Groups are those in which somebody is
    inside the denominator; with cuts of a single column every stretch is shown, be it empty. A missing value is
    a group of its own, shown last.

    Raises GravelbookError for a column that is not there, or cuts of a column that holds no numbers.
    """
    if not splits:
        return everyone(len(side_id))
    rows = pd.Index(sides["side_id"]).get_indexer(pd.Index(side_id))
    if (rows < 0).any():
        raise ValueError(f"{int((rows < 0).sum())} units have a side of reference that is not in the cohort's frame.")
    levels = [levels_of(column_of(sides, split.column), split, unit_of) for split in splits]
    sizes = [len(level.labels) for level in levels]
    cells = int(np.prod(sizes))
    codes = np.zeros(len(side_id), dtype=np.int64)
    for level, size in zip(levels, sizes, strict=True):
        codes = codes * size + level.codes[rows]
    present = np.bincount(codes[inside], minlength=cells) > 0
    if len(splits) == 1 and splits[0].cuts:
        present[: len(splits[0].cuts) + 1] = True
    kept = np.flatnonzero(present)
    place = np.full(cells, -1, dtype=np.int64)
    place[kept] = np.arange(len(kept))
    parts = np.unravel_index(kept, sizes)
    labels = tuple(
        tuple(level.labels[at] for level, at in zip(levels, each, strict=True)) for each in zip(*parts, strict=True)
    )
    return Grouping(tuple(split.column for split in splits), labels, place[codes])


def column_of(sides: pd.DataFrame, name: str) -> pd.Series:
    """A column of the cohort.

    Raises GravelbookError, with the nearest names, when it is not there.
    """
    if name in sides.columns:
        return sides[name]
    raise GravelbookError(f"{name!r} is no column of the cohort. {nearest(name, map(str, sides.columns))}")


def levels_of(values: pd.Series, split: Split, unit_of: UnitOf | None = None) -> Levels:
    """The levels of one column, cut where asked.

    Raises GravelbookError when cuts are asked of a column that holds no numbers.
    """
    if split.cuts:
        return _cut(values, split, (unit_of or unit_in_name)(split.column))
    codes, distinct = pd.factorize(values.where(values.notna() & (values != NOT_RECORDED).fillna(True)))
    if isinstance(values.dtype, pd.CategoricalDtype):
        place: list[Any] = values.cat.categories.get_indexer(pd.Index(distinct)).tolist()
    else:
        place = [_natural(value) for value in distinct]
    order = np.array(sorted(range(len(distinct)), key=place.__getitem__), dtype=np.int64)
    rank = np.append(np.argsort(order), len(order))  # the last is where -1, a missing value, lands
    return Levels((*(_plain(distinct[at]) for at in order), NOT_RECORDED), rank[codes].astype(np.int64))


def units_of(columns: Mapping[str, CohortColumn]) -> UnitOf:
    """The units of columns as they are spoken: those declared, else what a name ends in."""

    def unit(name: str) -> str:
        if name not in columns:
            return unit_in_name(name)
        said = columns[name].unit
        return SPOKEN_UNITS.get(said, said)

    return unit


def unit_in_name(column: str) -> str:
    """The unit that a column's name ends in: `largest_mm` is in mm."""
    ending = re.search(r"_(mm|mm2|mm3|cm|ml|min|s|days|years|hu|kg|kj|fr)$", column)
    return {"fr": "Fr", "hu": "HU", "ml": "mL", "kj": "kJ"}.get(ending[1], ending[1]) if ending else ""


def _cut(values: pd.Series, split: Split, unit: str) -> Levels:
    if not pd.api.types.is_numeric_dtype(values.dtype) or pd.api.types.is_bool_dtype(values.dtype):
        raise GravelbookError(
            f"The column {split.column!r} holds no numbers, so it cannot be cut at "
            f"{', '.join(f'{cut:g}' for cut in split.cuts)}. Name it without cuts to group by its values."
        )
    numbers = values.to_numpy(dtype=np.float64, na_value=np.nan)
    codes = np.searchsorted(np.array(split.cuts), numbers, side="right")
    codes[np.isnan(numbers)] = len(split.cuts) + 1
    after = f" {unit}" if unit else ""
    first, *_ = cuts = [f"{cut:g}" for cut in split.cuts]
    between = [f"{low} to under {high}{after}" for low, high in pairwise(cuts)]
    labels = (f"under {first}{after}", *between, f"{cuts[-1]}{after} and over", NOT_RECORDED)
    return Levels(labels, codes.astype(np.int64))


def _natural(value: Any) -> list[Any]:
    """A key that puts S2 before S10; numbers and dates stay as they are."""
    if not isinstance(value, str):
        return [value]
    return [(0, int(part), "") if part.isdigit() else (1, 0, part) for part in re.split(r"(\d+)", value)]


def _plain(value: Any) -> Any:
    """A value as JSON and a person would write it."""
    if isinstance(value, dt.datetime | dt.date):
        return value.isoformat()[:10]
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return int(value) if float(value).is_integer() else float(value)
    return str(value)
