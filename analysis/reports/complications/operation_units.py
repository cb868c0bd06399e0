"""Operations of a cohort as the units of a table: systemic outcomes have one row an operation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.reports.request.splits import Split

OF_THE_FIT = frozenset(
    {"sheath_to_scope_ratio", "scope_to_sheath_ratio", "ratio_state", "scope_to_sheath_band", "scope_to_sheath_split"}
)
"""Columns of the ratio: of a bilateral operation those of its tightest side speak."""


@dataclass(frozen=True, eq=False)
class OperationUnits:
    """Operations in order of their key: their side of reference, and their patient as a whole code from 0."""

    operation_id: pd.Index
    side_id: npt.NDArray[np.int64]
    patient: npt.NDArray[np.int64]
    solitary: npt.NDArray[np.bool_]


def operation_units(
    sides: pd.DataFrame, by: Sequence[Split] = (), settings: Mapping[str, str] | None = None
) -> OperationUnits:
    """The operations that are counted.

    sides: the cohort frame. by: what is split by. settings: `denominator`, intended (by default: operations that
    treated at least one side of the cohort to remove a stone) or all. The side of reference is the lowest-numbered
    one where the treatment was started, else the lowest; when the split is by the ratio, the tightest side.
    """
    if (settings or {}).get("denominator", "intended") != "all":
        undone = sides["conduct"].isin(["not_started", "no_stone_found"])
        treated = sides.loc[(sides["intent"] == "stone_removal") & ~undone, "operation_id"]
        sides = sides[sides["operation_id"].isin(treated)]
    if any(split.column in OF_THE_FIT for split in by):
        order = sides.assign(rank=-sides["scope_to_sheath_ratio"].fillna(-1.0))
    else:
        order = sides.assign(rank=(sides["conduct"] == "not_started").fillna(False).astype(float))
    first = order.sort_values(["operation_id", "rank", "side_id"]).drop_duplicates("operation_id")
    alone = sides.loc[(sides["solitary"] == "yes").fillna(False).astype(bool), "operation_id"]
    return OperationUnits(
        operation_id=pd.Index(first["operation_id"].to_numpy(np.int64), name="operation_id"),
        side_id=first["side_id"].to_numpy(np.int64),
        patient=pd.factorize(first["patient_id"])[0].astype(np.int64),
        solitary=first["operation_id"].isin(alone).to_numpy(),
    )
