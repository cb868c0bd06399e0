"""Kidney function of each operation: before, after, change, and acute injury."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis.outcomes.kidney.filtration import ckd_epi_2021
from analysis.outcomes.kidney.injury import RATIO_DAYS, RISE_DAYS, kdigo_stage
from analysis.outcomes.kidney.rules import KidneyRules

NO_BEFORE, NO_AFTER = "creatinine before", "creatinine after"


def judge_kidney(
    frames: Mapping[str, pd.DataFrame], rules: KidneyRules, *, as_of: dt.date, operation_ids: pd.Index
) -> pd.DataFrame:
    """One row an operation asked about.

    frames: operations, observations and dialyses as `analysis.cohort.sql.observations` makes them. The value before
    is the last in the days allowed; the value after the one nearest the target day (of two as near the later), or
    the last, within the window and no later than the day of the patient's next operation; of one day the highest.
    Columns, in order of the key: patient_id, operated_on, creatinine_before and _after (umol/L), day_before and
    day_after (days from the operation), egfr_before, egfr_after (mL/min/1.73 m2), change, reason (what is missing, or
    why the equation does not apply); stage, any_stage, stage_reason; due_injury and due_change, whether the days
    allowed had passed by the as-of day.
    """
    last = pd.Timestamp(as_of)
    operations = frames["operations"].set_index("operation_id").reindex(operation_ids)
    values = _daily(frames["observations"], operation_ids, last)
    values["next_day"] = _days_to_next(operations).reindex(values["operation_id"]).to_numpy()
    before = values[(values["phase"] == "before") & (values["days_after"] >= -rules.baseline_days)]
    base = before.sort_values("days_after").drop_duplicates("operation_id", keep="last").set_index("operation_id")
    later = _chosen(values[values["phase"] == "after"], rules)
    made = pd.DataFrame(index=operation_ids)
    made["patient_id"], made["operated_on"] = operations["patient_id"], operations["operated_on"]
    for name, taken in (("before", base), ("after", later)):
        made[f"creatinine_{name}"] = taken["creatinine_umol_l"].reindex(operation_ids)
        made[f"day_{name}"] = taken["days_after"].reindex(operation_ids).astype("Int64")
        rate = ckd_epi_2021(
            made[f"creatinine_{name}"], operations["age_years"], operations["sex"], operations["pregnant"]
        )
        made[f"egfr_{name}"], made[f"why_{name}"] = rate["egfr"], rate["reason"]
    made["change"] = made["egfr_after"] - made["egfr_before"]
    made["reason"] = [_reason(one, two) for one, two in zip(made["why_before"], made["why_after"], strict=True)]
    made["reason"] = made["reason"].where(made["change"].isna(), "").astype("string")
    near = values[values["days_after"].between(-RISE_DAYS, RATIO_DAYS) & values["phase"].isin(["before", "after"])]
    near = near[~(near["days_after"] > near["next_day"])]
    injury = kdigo_stage(
        operation_ids, made["creatinine_before"], near, _replaced(frames["dialyses"], operation_ids, last)
    )
    made["stage"], made["any_stage"], made["stage_reason"] = injury["stage"], injury["any_stage"], injury["reason"]
    for name, days in (("due_injury", RATIO_DAYS), ("due_change", rules.last_day)):
        made[name] = operations["operated_on"] + pd.to_timedelta(days, unit="D") < last
    # A change that is there is there; only what may still come is not due.
    made["due_change"] |= made["day_after"].notna()
    return made.drop(columns=["why_before", "why_after"])


def _daily(sets: pd.DataFrame, operation_ids: pd.Index, last: pd.Timestamp) -> pd.DataFrame:
    """The highest creatinine of each operation, phase and day."""
    kept = sets[
        sets["operation_id"].isin(operation_ids) & (sets["observed_on"] <= last) & sets["creatinine_umol_l"].notna()
    ]
    by = ["operation_id", "phase", "days_after"]
    return kept[[*by, "creatinine_umol_l"]].groupby(by, as_index=False, sort=True).max()


def _days_to_next(operations: pd.DataFrame) -> pd.Series:
    return (operations["next_operated_on"] - operations["operated_on"]).dt.days.astype("Float64")


def _chosen(after: pd.DataFrame, rules: KidneyRules) -> pd.DataFrame:
    """Of each operation, as index, the value that stands for after it."""
    inside = after[after["days_after"].between(rules.first_day, rules.last_day)]
    inside = inside[~(inside["days_after"] > inside["next_day"])]
    target = rules.last_day if rules.target_day is None else rules.target_day
    ranked = inside.assign(away=(inside["days_after"] - target).abs()).sort_values(
        ["operation_id", "away", "days_after"], ascending=[True, True, False]
    )
    return ranked.drop_duplicates("operation_id").set_index("operation_id")


def _replaced(dialyses: pd.DataFrame, operation_ids: pd.Index, last: pd.Timestamp) -> pd.Series:
    """Whether renal replacement is recorded for certain within the days of the definition."""
    low, high = dialyses["days_low"].astype("Float64"), dialyses["days_high"].astype("Float64")
    inside = ((low >= 0) & (high <= RATIO_DAYS)).fillna(False).astype(bool) & ~(dialyses["given_on"] > last)
    return pd.Series(operation_ids.isin(dialyses.loc[inside, "operation_id"]), index=operation_ids)


def _reason(before: str, after: str) -> str:
    """What stands in the way of a change: the patient's own reason first, else the values that lack."""
    own = {"age", "under 18 years", "pregnant", "sex"} & {before, after}
    if own:
        return sorted(own)[0]
    lacking = [said for said, why in ((NO_BEFORE, before), (NO_AFTER, after)) if why == "creatinine"]
    return ", ".join(lacking)


def quartiles(values: pd.Series) -> tuple[float | None, float | None, float | None]:
    """Lower quartile, median and upper quartile, by linear interpolation; None where there is no value."""
    known = values.dropna().to_numpy(np.float64)
    if not len(known):
        return None, None, None
    low, middle, high = np.quantile(known, [0.25, 0.5, 0.75])
    return float(low), float(middle), float(high)
