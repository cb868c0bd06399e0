"""Which study is good enough to say "nothing larger than t": declared tables, and the one door to them.

A study that is not adequate at a threshold can still show that a fragment is there; it can never show
that none is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.thresholds import DefinitionError, Threshold

MODALITIES = ("second_look", "ct", "us+kub", "ultrasound", "kub", "other")
"""Modalities of a study, the better first (an incomplete second look ranks with `other`)."""

NEVER = np.inf
"""Adequate at no threshold."""

_ROW_KEYS = {"modality", "from_mm", "slice_over_mm", "slice_to_mm"}


@dataclass(frozen=True)
class AdequacyRow:
    """One line of a table: studies of this kind are adequate at every threshold from `from_mm` up.

    modality: one of MODALITIES; `second_look` means one in which every calyx was seen.
    from_mm: smallest adequate threshold, millimetres; 0 is every threshold.
    slice_over_mm, slice_to_mm: CT slice thickness above the first and up to the second, millimetres.
        Without `slice_to_mm` the line holds for every slice, an unknown one included.
    """

    modality: str
    from_mm: float
    slice_over_mm: float = 0.0
    slice_to_mm: float | None = None

    def __post_init__(self) -> None:
        if self.modality not in MODALITIES:
            raise DefinitionError(
                f"An adequacy table names the modality '{self.modality}'; allowed are {', '.join(MODALITIES)}."
            )
        if not self.from_mm >= 0:
            raise DefinitionError(
                f"An adequacy table says {self.modality} is adequate from {self.from_mm} mm; write 0 or "
                "more, or leave the line out if it never is."
            )
        if self.slice_to_mm is not None and not 0 <= self.slice_over_mm < self.slice_to_mm:
            raise DefinitionError(
                f"An adequacy table has a slice range from {self.slice_over_mm} to {self.slice_to_mm} mm; "
                "the first number must be 0 or more and the smaller one."
            )


@dataclass(frozen=True)
class AdequacyTable:
    """A named table. `switched_off` takes every study at its word, as most published series do."""

    name: str
    rows: tuple[AdequacyRow, ...] = ()
    switched_off: bool = False

    def covers(self, modality: str) -> bool:
        """Whether any study of this modality is adequate at some threshold."""
        return self.switched_off or any(row.modality == modality for row in self.rows)

    def as_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "switched_off": self.switched_off,
            "rows": [
                {
                    "modality": row.modality,
                    "from_mm": row.from_mm,
                    "slice_over_mm": row.slice_over_mm,
                    "slice_to_mm": row.slice_to_mm,
                }
                for row in self.rows
            ],
        }


ADEQUACY_1 = AdequacyTable(
    name="adequacy-1",
    rows=(
        AdequacyRow("ct", from_mm=0, slice_over_mm=0, slice_to_mm=2),
        AdequacyRow("ct", from_mm=3, slice_over_mm=2, slice_to_mm=3),
        AdequacyRow("ct", from_mm=4, slice_over_mm=3, slice_to_mm=4),
        AdequacyRow("second_look", from_mm=0),
    ),
)
AS_PUBLISHED = AdequacyTable(name="as-published", switched_off=True)
TABLES = {table.name: table for table in (ADEQUACY_1, AS_PUBLISHED)}


def table_from_data(name: str, rows: Iterable[Mapping[str, Any]]) -> AdequacyTable:
    """A unit's own table from plain data, each row with the keys of AdequacyRow.

    Raises DefinitionError for a reserved name, a key that is not known or one that is missing.
    """
    if name in TABLES:
        raise DefinitionError(f"The adequacy table name '{name}' is taken; give your own table another name.")
    made = []
    for number, row in enumerate(rows, start=1):
        strange = set(row) - _ROW_KEYS
        lacking = {"modality", "from_mm"} - set(row)
        if strange or lacking:
            raise DefinitionError(
                f"Row {number} of the adequacy table '{name}' has {'unknown' if strange else 'no'} "
                f"{', '.join(sorted(strange or lacking))}; a row needs modality and from_mm and may have "
                "slice_over_mm and slice_to_mm."
            )
        made.append(AdequacyRow(**row))
    return AdequacyTable(name=name, rows=tuple(made))


def adequate_from(
    table: AdequacyTable,
    *,
    modality: pd.Series[str],
    slice_mm: pd.Series[float],
    every_calyx_seen: pd.Series[bool],
    radiolucent: pd.Series[bool],
    assume_slice_mm: float | None,
) -> npt.NDArray[np.float64]:
    """Smallest threshold, in millimetres, from which each study is adequate; infinity when at none.

    modality: one of MODALITIES. slice_mm: missing when not recorded, then `assume_slice_mm` if given.
    radiolucent: a stone of the course does not show on plain film, so a film can never clear the side
    and a pair is worth what its ultrasound is worth alone.
    """
    if table.switched_off:
        return np.zeros(len(modality), dtype=np.float64)
    kind = modality.to_numpy(dtype=object)
    hidden = radiolucent.to_numpy(dtype=bool)
    kind = np.where(hidden & (kind == "us+kub"), "ultrasound", kind)
    kind = np.where(hidden & (kind == "kub"), "", kind)
    kind = np.where((kind == "second_look") & ~every_calyx_seen.to_numpy(dtype=bool), "", kind)
    thickness = effective_slice(slice_mm, assume_slice_mm)
    result = np.full(len(kind), NEVER)
    for row in table.rows:
        fits = kind == row.modality
        if row.slice_to_mm is not None:
            fits &= (thickness > row.slice_over_mm) & (thickness <= row.slice_to_mm)
        result = np.where(fits, np.minimum(result, row.from_mm), result)
    return result


def effective_slice(slice_mm: pd.Series[float], assume_slice_mm: float | None) -> npt.NDArray[np.float64]:
    """Slice thickness in millimetres with the assumed one where none is recorded (infinity if none is)."""
    assumed = np.inf if assume_slice_mm is None else assume_slice_mm
    return np.asarray(slice_mm.fillna(assumed), dtype=np.float64)


def is_adequate(from_mm: npt.NDArray[np.float64], threshold: Threshold) -> npt.NDArray[np.bool_]:
    """Whether studies adequate from `from_mm` are so at the threshold; `lt4` counts as just under 4."""
    enough: npt.NDArray[np.bool_] = from_mm <= threshold.value_mm
    if threshold.strict:
        enough = from_mm < threshold.value_mm
    return enough
