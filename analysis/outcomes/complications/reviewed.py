"""Who was looked at: no complication recorded is not "no complication"."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

BoolArray = npt.NDArray[np.bool_]


def reviewed(
    units: pd.DataFrame, contacts: pd.DataFrame, deaths: pd.DataFrame, days: int
) -> tuple[BoolArray, BoolArray]:
    """Whether each unit was reviewed for the window, and whether it counts so by death alone.

    units: patient_id, operated_on. contacts: patient_id, known_to (the day up to which all complications are known by a
    contact or a record review, else its own day). deaths: patient_id, on_low. A unit is reviewed when a contact reaches
    day `days` after the operation, or when the patient died in the window: it is then known until death. A death known
    to the month counts when it may lie in the window. Both of shape (units,).
    """
    ends = (units["operated_on"] + pd.Timedelta(days=days)).reset_index(drop=True)
    patient = units["patient_id"].reset_index(drop=True)
    reached = contacts.groupby("patient_id")["known_to"].max()
    by_contact = (patient.map(reached) >= ends).to_numpy(dtype=bool)
    died = (patient.map(deaths.groupby("patient_id")["on_low"].min()) <= ends).to_numpy(dtype=bool)
    return by_contact | died, died & ~by_contact


def vital_status_known(
    units: pd.DataFrame, contacts: pd.DataFrame, deaths: pd.DataFrame, alive: pd.DataFrame, days: int
) -> BoolArray:
    """Whether it is known if each unit's patient lived to the end of the window: seen after it, or dead at any time.

    contacts: patient_id, contacted_on. alive: patient_id, alive_on, the day on which the patient is known to have
    lived. A death on a day that does not settle the window is for the caller to tell.
    """
    ends = (units["operated_on"] + pd.Timedelta(days=days)).reset_index(drop=True)
    patient = units["patient_id"].reset_index(drop=True)
    seen = pd.concat(
        [
            contacts[["patient_id", "contacted_on"]].set_axis(["patient_id", "on"], axis=1),
            alive.set_axis(["patient_id", "on"], axis=1),
        ]
    )
    last = patient.map(seen.groupby("patient_id")["on"].max())
    return np.asarray((last >= ends).to_numpy(dtype=bool) | patient.isin(deaths["patient_id"]).to_numpy(dtype=bool))
