"""Unplanned admissions after discharge, and unplanned attendances, each with the operation that it came after."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

BoolArray = npt.NDArray[np.bool_]


def latest_operation(happened: pd.DataFrame, operations: pd.DataFrame) -> pd.DataFrame:
    """What happened, with the patient's latest operation on or before its first day.

    happened: patient_id, on_low, and what else it has. operations: operation_id, patient_id, operated_on, day_number.
    Adds operation_id and operated_on; what came before every operation is left out.
    """
    ordered = operations.sort_values(["operated_on", "day_number", "operation_id"])
    ordered = ordered.drop_duplicates(["patient_id", "operated_on"], keep="last")
    return pd.merge_asof(
        happened.sort_values("on_low"),
        ordered[["operation_id", "patient_id", "operated_on"]].sort_values("operated_on"),
        left_on="on_low",
        right_on="operated_on",
        by="patient_id",
    ).dropna(subset=["operation_id"])


def readmissions(
    admissions: pd.DataFrame, complications: pd.DataFrame, operations: pd.DataFrame, counted: pd.DataFrame
) -> pd.DataFrame:
    """Admissions after the stay of an operation that were unplanned, or of which that is not recorded.

    admissions: admission_id, patient_id, admitted_on, unplanned. complications: readmission_id, for an admission that
    a complication names is unplanned unless the record says otherwise. operations: every operation, with its
    admission_id and discharged_on; an admission in which a patient was operated on is no readmission after that
    operation, and one that began before the discharge is none either. counted: the operations that stand in the
    denominator; a readmission belongs to the latest of the patient's.

    Columns: operation_id, operated_on, on_low, on_high, unplanned (False when not recorded).
    """
    named = set(complications["readmission_id"].dropna())
    told = admissions["unplanned"].eq("yes") | (admissions["admission_id"].isin(named) & admissions["unplanned"].isna())
    unplanned = told.fillna(False).to_numpy(dtype=bool)
    open_ = (admissions["unplanned"].isna()).to_numpy(dtype=bool) & ~unplanned
    stays = admissions.assign(on_low=admissions["admitted_on"], on_high=admissions["admitted_on"], sure=unplanned)
    made = latest_operation(stays[unplanned | open_], counted)
    own = operations.set_index("operation_id").reindex(made["operation_id"])
    same_stay = (own["admission_id"].reset_index(drop=True) == made["admission_id"].reset_index(drop=True)).fillna(
        False
    )
    discharged = own["discharged_on"].reset_index(drop=True)
    on = made["on_low"].reset_index(drop=True)
    # Without a day of discharge an admission on a later day is taken to come after it.
    after = (on >= discharged) | (discharged.isna() & (on > made["operated_on"].reset_index(drop=True)))
    kept = (after & ~same_stay).to_numpy(dtype=bool)
    return made[kept].reset_index(drop=True)[["operation_id", "operated_on", "on_low", "on_high", "sure"]]
