"""What somebody recorded about an operation: complications within a window, and up to when the case was reviewed."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import Answer, answer


def reviewed(operations: pd.DataFrame, contacts: pd.DataFrame, days: int) -> pd.Series:
    """Whether all complications up to that day after each operation, or up to death, are known to whoever asked.

    operations: operation_id (index), patient_id, operated_on, died_low. contacts: patient_id, known_to (the day up to
    which a contact knows all complications, else its own). Who died in the window is known until then.
    """
    known_to = contacts.groupby("patient_id")["known_to"].max()
    own = pd.to_datetime(operations["patient_id"].map(known_to))
    end = operations["operated_on"] + pd.to_timedelta(days, unit="D")
    return ((own >= end) | (operations["died_low"] <= end)).fillna(False).astype(bool)


def recorded(operations: pd.DataFrame, chosen: pd.DataFrame, known: pd.Series, days: int) -> Answer:
    """Whether any of the chosen complications began within the window.

    chosen: rows of complications with operation_id, days_low and days_high (days from the operation to the first and
    last day that the onset may be; missing when it is not recorded). known: from `reviewed`. Yes by any that lies
    inside; not computable by one whose onset may lie inside or out, or when the case was not reviewed.
    """
    low, high = chosen["days_low"].astype("Float64"), chosen["days_high"].astype("Float64")
    inside = (low >= 0) & (high <= days)
    outside = (high < 0) | (low > days)
    yes = operations.index.isin(chosen.loc[inside.fillna(False).astype(bool), "operation_id"])
    unsettled = ~inside.fillna(False).astype(bool) & ~outside.fillna(False).astype(bool)
    unclear = operations.index.isin(chosen.loc[unsettled, "operation_id"])
    state = pd.Series(pd.NA, index=operations.index, dtype="boolean")
    state = state.mask(known & ~unclear, False).mask(pd.Series(yes, index=operations.index), True)
    missing = pd.Series(f"review to day {days}", index=operations.index, dtype="string")
    return answer(state, missing.mask(pd.Series(unclear, index=operations.index), "date of onset"))
