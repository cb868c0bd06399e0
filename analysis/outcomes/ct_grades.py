"""Grades of what is left on CT, by how many fragments there are and how large the largest is.

The default grades are those of one published series (Gauhar V and others, World J Urol 2025;43(1), doi
10.1007/s00345-025-05570-z: CT of 2 mm without contrast at 30 days). They are widely reused; no page was found that
shows them to be a society's consensus. The series leaves 2.0 to 2.1 mm open; here it is C.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.thresholds import DefinitionError

VERSION = "1"
FloatArray = npt.NDArray[np.float64]
_KEYS = {"code", "label", "count_to", "size_to_mm"}

NOT_READ = "the CT was not read, or its reading settles nothing"
COARSE = "the CT is too coarse: it cannot rule out what it does not show"
COUNT_OPEN = "the number of fragments is not said exactly enough"
SIZE_OPEN = "the size of the largest fragment is not said exactly enough"


@dataclass(frozen=True)
class Grade:
    """One grade: at most `count_to` fragments, the largest at most `size_to_mm`; None is no limit."""

    code: str
    label: str
    count_to: int | None = None
    size_to_mm: float | None = None

    def limit(self, name: str) -> float:
        """The limit `count_to` or `size_to_mm`, infinite without one; no fragment has no size."""
        if name == "size_to_mm" and self.count_to == 0:
            return 0.0
        value = getattr(self, name)
        return float("inf") if value is None else float(value)


@dataclass(frozen=True)
class GradeTable:
    """Grades, the best first; a kidney has the first that it fits. The last has no limits and takes the rest.

    Raises DefinitionError for fewer than two grades, a code named twice, limits that a later grade lowers, or a last
    grade that has any.
    """

    name: str
    grades: tuple[Grade, ...]
    source: str

    def __post_init__(self) -> None:
        codes = [one.code for one in self.grades]
        if len(codes) < 2:
            raise DefinitionError(f"The grade table '{self.name}' needs two grades or more, the best first.")
        if len(set(codes)) != len(codes):
            raise DefinitionError(f"The grade table '{self.name}' names a grade twice; each code stands once.")
        if self.grades[-1].count_to is not None or self.grades[-1].size_to_mm is not None:
            raise DefinitionError(
                f"The last grade of '{self.name}', {codes[-1]}, has a limit; it takes all that fits no other and so "
                "has neither count_to nor size_to_mm."
            )
        for name in ("count_to", "size_to_mm"):
            limits = [one.limit(name) for one in self.grades]
            if limits != sorted(limits) or limits[0] < 0:
                raise DefinitionError(
                    f"In the grade table '{self.name}' {name} falls from one grade to the next, or is below 0; grades "
                    "go from the best to the worst, so no later one may allow less."
                )

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(one.code for one in self.grades)

    def as_dict(self) -> dict[str, Any]:
        """All of it, ready for JSON."""
        return {
            "name": self.name,
            "version": VERSION,
            "source": self.source,
            "grades": [{name: getattr(one, name) for name in sorted(_KEYS)} for one in self.grades],
        }


SERIES = GradeTable(
    name="ct-grades-1",
    grades=(
        Grade("A", "no fragment", count_to=0, size_to_mm=0),
        Grade("B", "one fragment of 2 mm or less", count_to=1, size_to_mm=2),
        Grade("C", "one fragment of more than 2 to 4 mm", count_to=1, size_to_mm=4),
        Grade("D", "several fragments, or one of more than 4 mm"),
    ),
    source=(
        "Gauhar V and others, World J Urol 2025;43(1), doi 10.1007/s00345-025-05570-z: the definition of one series, "
        "widely reused and no society's consensus"
    ),
)


def grade_table_from_data(name: str, rows: Iterable[Mapping[str, Any]], source: str) -> GradeTable:
    """A unit's own table from plain data, each row with the keys of Grade.

    Raises DefinitionError for a reserved name, a key that is not known or one that is missing.
    """
    if name == SERIES.name:
        raise DefinitionError(f"The grade table name '{name}' is taken; give your own table another name.")
    made = []
    for number, row in enumerate(rows, start=1):
        strange, lacking = set(row) - _KEYS, {"code", "label"} - set(row)
        if strange or lacking:
            raise DefinitionError(
                f"Grade {number} of the table '{name}' has {'unknown' if strange else 'no'} "
                f"{', '.join(sorted(strange or lacking))}; a grade needs code and label and may have count_to and "
                "size_to_mm."
            )
        made.append(Grade(**row))
    return GradeTable(name, tuple(made), source)


def graded(seen: pd.DataFrame, adequate: npt.NDArray[np.bool_], table: GradeTable = SERIES) -> pd.DataFrame:
    """The grade of each reading, or why there is none. Columns: grade (code or None), reason (empty with a grade).

    seen: one row a reading, as `seen.seen` gives it. adequate: the CT can rule out a fragment of any size; on another
    only the worst grade can be told. A range of count or size that leaves more than one grade open gives none.
    """
    count = [seen[name].to_numpy(dtype=np.float64) for name in ("count_low", "count_high")]
    size = [seen[name].to_numpy(dtype=np.float64) for name in ("size_low", "size_high")]
    best = _first_fit(count[0], size[0], table)
    worst = _first_fit(count[1], size[1], table)
    last = len(table.grades) - 1
    says = seen["says"].to_numpy(dtype=bool)
    size_alone = _first_fit(count[0], size[1], table) != best
    reason = np.select(
        [~says & (best < last), best != worst, (best < last) & ~adequate],
        [NOT_READ, np.where(size_alone, SIZE_OPEN, COUNT_OPEN), COARSE],
        default="",
    )
    codes = np.array(table.codes, dtype=object)[best]
    codes[reason != ""] = None
    return pd.DataFrame({"grade": codes, "reason": reason.astype(object)})


def of_several(grades: pd.DataFrame, keys: pd.Series[int], table: GradeTable = SERIES) -> pd.DataFrame:
    """The grade of each examination from its readings: the worst of them, if all have one.

    The worst grade of all stands even where another reading settles nothing. grades: as `graded` gives them; keys:
    of each row its examination. Index: the keys, in order. Columns as of `graded`, and readings.
    """
    place = {code: at for at, code in enumerate(table.codes)}
    last = len(table.grades) - 1
    rank = grades["grade"].map(place)
    rows = pd.DataFrame(
        {"key": keys.to_numpy(), "rank": rank.astype("float64"), "reason": grades["reason"].to_numpy()}
    ).assign(open=rank.isna().to_numpy())
    by = rows.sort_values(["key", "open"], ascending=[True, False], kind="stable").groupby("key")
    made = by.agg(rank=("rank", "max"), reason=("reason", "first"), open=("open", "any"), readings=("open", "size"))
    settled = ~made["open"] | (made["rank"] == last)
    codes = made["rank"].where(settled).map(dict(enumerate(table.codes)))
    return pd.DataFrame(
        {
            "grade": codes.astype(object).where(settled, None),
            "reason": made["reason"].where(~settled, ""),
            "readings": made["readings"],
        }
    )


def _first_fit(count: FloatArray, size: FloatArray, table: GradeTable) -> npt.NDArray[np.int64]:
    fits = [(count <= one.limit("count_to")) & (size <= one.limit("size_to_mm")) for one in table.grades]
    first: npt.NDArray[np.int64] = np.argmax(np.stack(fits), axis=0)
    return first
