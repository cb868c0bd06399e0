"""Acute rise of organ failure over the baseline before the operation."""

from __future__ import annotations

import pandas as pd

from analysis.outcomes.infection.answers import named, number, reached
from analysis.outcomes.infection.sofa import SYSTEMS, sofa


def baseline(before: pd.DataFrame, operations: pd.DataFrame) -> pd.DataFrame:
    """Points of each system before the operation, one row an operation.

    before: days before the operation (`days.worst_by_day`) within the days allowed, of each operation. operations:
    operation_id as index, with chronic_kidney_disease (boolean). Each system has its last known value, 0 where it was
    never measured; the kidney 0 to 4 where chronic kidney disease is recorded and creatinine is not. Columns: those
    of `sofa`, `_low` and `_high`, and assumed (text): the systems taken as 0 without a measurement.
    """
    ordered = before.sort_values(["operation_id", "days_after"], kind="stable")
    scored = sofa(ordered).assign(operation_id=ordered["operation_id"])
    made: dict[str, pd.Series] = {}
    unmeasured = {}
    for name in SYSTEMS:
        low, high = f"{name}_low", f"{name}_high"
        known = scored[(scored[high] - scored[low]) < 4].drop_duplicates("operation_id", keep="last")
        own = known.set_index("operation_id")[[low, high]].reindex(operations.index)
        unmeasured[name] = own[low].isna()
        made[low], made[high] = own[low].fillna(0).astype("int64"), own[high].fillna(0).astype("int64")
    unknown = unmeasured["kidney"] & operations["chronic_kidney_disease"].fillna(False).astype(bool)
    made["kidney_high"] = made["kidney_high"].mask(unknown, 4)
    assumed = {name: unmeasured[name] & (~unknown if name == "kidney" else True) for name in SYSTEMS}
    return pd.DataFrame(made).assign(assumed=named(assumed))


def risen(days: pd.DataFrame, scored: pd.DataFrame, base: pd.DataFrame) -> pd.DataFrame:
    """Whether SOFA on each day after is at least 2 points above the baseline.

    days: rows with operation_id; scored: `sofa` of them; base: `baseline`. The rise lies between the least points of
    the day less the most of the baseline, and the other way round. Columns: rise_low, rise_high, state, missing.
    """
    at = base.reindex(days["operation_id"]).set_index(days.index)
    lows, highs = [f"{name}_low" for name in SYSTEMS], [f"{name}_high" for name in SYSTEMS]
    low = scored["low"] - at[highs].sum(axis=1)
    high = scored["high"] - at[lows].sum(axis=1)
    state = reached(low, high, 2)
    return pd.DataFrame({"rise_low": low, "rise_high": high, "state": state, "missing": scored["missing"]})


def shocked(days: pd.DataFrame, rise: pd.DataFrame) -> pd.DataFrame:
    """Whether a day with that rise had a vasopressor and lactate above 2 mmol/L (units as stored).

    Returns state, missing and seen (a vasopressor or lactate was recorded).
    """
    pressed, lactate = days["vasopressor"].astype("boolean"), number(days["lactate_mmol_l"])
    state = rise["state"] & pressed & (lactate > 2)
    missing = named({"vasopressor": pressed.isna(), "lactate": lactate.isna(), "SOFA": rise["state"].isna()})
    return pd.DataFrame({"state": state, "missing": missing, "seen": pressed.notna() | lactate.notna()})
