"""Which values lack, and which lack together: the table that stands before any imputation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd


@dataclass(frozen=True, kw_only=True)
class MissingColumn:
    """n: rows that have it; missing: rows that lack it; share of all rows."""

    column: str
    n: int
    missing: int
    share: float


@dataclass(frozen=True, kw_only=True)
class Pattern:
    """Rows that lack exactly these columns (none: complete rows)."""

    lacking: tuple[str, ...]
    rows: int
    share: float


@dataclass(frozen=True, kw_only=True)
class Missingness:
    """columns: in the order given. patterns: the commonest first. complete: rows that lack nothing."""

    rows: int
    complete: int
    columns: tuple[MissingColumn, ...]
    patterns: tuple[Pattern, ...]

    @property
    def incomplete_share(self) -> float:
        """Of all rows, those that lack something; 0 without rows."""
        return 1 - self.complete / self.rows if self.rows else 0.0


def missingness(frame: pd.DataFrame, columns: Sequence[str]) -> Missingness:
    """Count what lacks. frame: one row an observation; what does not apply is no gap, and such rows are left out."""
    lacks, rows = frame[list(columns)].isna(), len(frame)
    found = [
        MissingColumn(column=name, n=rows - many, missing=many, share=many / rows if rows else 0.0)
        for name, many in ((name, int(lacks[name].sum())) for name in columns)
    ]
    counted: dict[Any, int] = lacks.value_counts(sort=False).to_dict() if rows else {}
    patterns = [
        Pattern(
            lacking=tuple(name for name, lacking in zip(columns, key, strict=True) if lacking),
            rows=int(many),
            share=int(many) / rows,
        )
        for key, many in counted.items()  # a key is a tuple, of one column as well
    ]
    patterns.sort(key=lambda each: (-each.rows, len(each.lacking), each.lacking))
    complete = sum(each.rows for each in patterns if not each.lacking)
    return Missingness(rows=rows, complete=complete, columns=tuple(found), patterns=tuple(patterns))
