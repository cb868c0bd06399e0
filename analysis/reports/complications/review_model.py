"""What the chance of having been reviewed is modelled on: age, sex, burden, technique, pre-stented, year, operator."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

FEWEST = 10
"""A level with fewer units is pooled with the other small ones."""
FEW = "few"
NUMBERS = ("age_years", "largest_mm", "year")
LEVELS = ("sex", "technique", "pre_stented", "operator")
IN_WORDS = "age, sex, largest stone, technique, pre-stented, year, operator; levels under 10 pooled"


def review_covariates(frame: pd.DataFrame) -> tuple[npt.NDArray[np.float64], tuple[str, ...]]:
    """Columns of numbers, none missing, and their names.

    frame: one row a unit with the columns of NUMBERS and LEVELS. A missing number is the mean and has a column that
    says so; a missing code is a level of its own. Of each set of levels the commonest is left out.
    """
    columns: list[npt.NDArray[np.float64]] = []
    names: list[str] = []
    for name in NUMBERS:
        values = frame[name].to_numpy(dtype=np.float64, na_value=np.nan)
        missing = np.isnan(values)
        columns.append(np.where(missing, np.nanmean(values) if not missing.all() else 0.0, values).astype(np.float64))
        names.append(name)
        if missing.sum() >= FEWEST:
            columns.append(missing.astype(np.float64))
            names.append(f"{name} not recorded")
    for name in LEVELS:
        told = frame[name].astype("object").where(frame[name].notna(), "not recorded").astype(str)
        sizes = told.value_counts()
        small = [level for level in sizes.index if sizes[level] < FEWEST]
        # A handful of small levels would stand in a level of its own no better: it joins the commonest.
        pooled = told.where(~told.isin(small), FEW if sizes[small].sum() >= FEWEST else str(sizes.index[0]))
        counts = pooled.value_counts()
        order = [level for _, level in sorted((-int(counts[level]), str(level)) for level in counts.index)]
        for level in order[1:]:
            columns.append(np.asarray(pooled == level, dtype=np.float64))
            names.append(f"{name} {level}")
    return np.column_stack(columns) if len(frame) else np.zeros((0, len(columns))), tuple(names)
