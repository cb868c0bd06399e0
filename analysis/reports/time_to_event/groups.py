"""Groups of courses by the exposure: its levels, bands, few values, or quarters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.design.terms import Term
from analysis.reports.ratio.exposure_values import distinct
from analysis.reports.ratio.model_file import PUBLISHED_BANDS, RATIO
from analysis.reports.request.grouping import levels_of
from analysis.reports.request.splits import Split

FEW = 4
EVERYONE = "everyone"


@dataclass(frozen=True, eq=False)
class Groups:
    """heading: what they are by. labels: in their order. codes: of each row its place, shape (rows,). note: how numbers
    were made groups, or empty."""

    heading: str
    labels: tuple[str, ...]
    codes: npt.NDArray[np.int64]
    note: str = ""

    def __iter__(self) -> Iterator[tuple[str, npt.NDArray[np.bool_]]]:
        """Each label with its rows."""
        for at, label in enumerate(self.labels):
            yield label, self.codes == at

    def within(self, kept: npt.NDArray[np.bool_]) -> Groups:
        """The groups of some of the rows, those that hold nobody then left out."""
        made = _kept(self.heading, list(self.labels), self.codes[kept])
        return Groups(made.heading, made.labels, made.codes, self.note)

    @property
    def names(self) -> npt.NDArray[np.object_]:
        """The label of each row."""
        return np.array([*self.labels, ""], dtype=object)[self.codes]


def groups_of(frame: pd.DataFrame, exposure: Term) -> Groups:
    """Group rows with the exposure known. The ratio is grouped by its published bands, which are cut on its reciprocal;
    another number with more than FEW values by quarters, each with its range."""
    column = exposure.column
    if not len(frame):
        return Groups(column, (), np.zeros(0, dtype=np.int64))
    if column == RATIO and exposure.shape != "bands":
        bands = _by_value(frame[PUBLISHED_BANDS], PUBLISHED_BANDS)
        return Groups(
            bands.heading,
            bands.labels,
            bands.codes,
            "Curves are of the published bands, which are cut on the scope-to-sheath ratio (the reciprocal); the "
            "models take the ratio as the question says.",
        )
    if exposure.shape == "bands":
        levels = levels_of(frame[column], Split(column, exposure.cuts))
        return _kept(column, [str(label) for label in levels.labels], levels.codes)
    values = frame[column]
    if isinstance(values.dtype, pd.CategoricalDtype) or not pd.api.types.is_numeric_dtype(values.dtype):
        return _by_value(values, column)
    if len(distinct(values)) <= FEW:
        return _by_value(values, column)
    return _quarters(values.to_numpy(dtype=np.float64), column)


def _by_value(values: pd.Series, column: str) -> Groups:
    labels = distinct(values)
    place = {label: at for at, label in enumerate(labels)}
    known = values.astype(object)
    numbers = all(isinstance(label, float) for label in labels)
    codes = np.array([place[float(one) if numbers else str(one)] for one in known], dtype=np.int64)
    return Groups(column, tuple(f"{one:g}" if numbers else str(one) for one in labels), codes)


def _quarters(values: npt.NDArray[np.float64], column: str) -> Groups:
    cuts = np.unique(np.quantile(values, [0.25, 0.5, 0.75]))
    code = np.searchsorted(cuts, values, side="right")
    labels = [f"{values[code == at].min():.4g} to {values[code == at].max():.4g}" for at in np.unique(code)]
    made = np.searchsorted(np.unique(code), code).astype(np.int64)
    return Groups(column, tuple(labels), made, f"{column} has many values: curves are of quarters of it.")


def _kept(column: str, labels: list[str], codes: npt.NDArray[np.int64]) -> Groups:
    met = np.unique(codes)
    return Groups(column, tuple(labels[at] for at in met), np.searchsorted(met, codes).astype(np.int64))
