"""Checked tables brought to one shape: whole day numbers, no missing flags, nothing dated after as-of.

Every frame is sorted by its identifiers, so that the order of rows in the input can never matter.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.inputs import Tables

READING_COLUMNS = ["examination_id", "renal_unit_id", "reading_id", "finding"]
FIRST_DAY = pd.Timestamp("1970-01-01")


@dataclass(frozen=True)
class Tidy:
    """The tables with days as int64 (days since 1970-01-01) in `low` and `high` (sides: `day`).

    examinations: one row per examination and renal unit, with `n_readings`, `read` (some reading
        has a finding that says yes or no) and `every_calyx_seen` (every reading says so).
    readings: one row per reading, `reading_id` missing where the examination has no reading of the unit.
    Sides after as-of stay, because they must be counted out; everything else dated after it is gone.
    """

    sides: pd.DataFrame
    treatments: pd.DataFrame
    examinations: pd.DataFrame
    readings: pd.DataFrame
    fragments: pd.DataFrame
    stones: pd.DataFrame
    aims: pd.DataFrame
    losses: pd.DataFrame
    deaths: pd.DataFrame
    as_of: int


def tidied(tables: Tables) -> Tidy:
    as_of = day_number(tables.as_of)
    readings = _dated(tables.examinations, as_of)
    readings = readings.sort_values(["examination_id", "renal_unit_id", "reading_id"], ignore_index=True)
    for flag in ("after_operation", "every_calyx_seen"):
        readings[flag] = _flag(readings[flag])
    readings["slice_mm"] = readings["slice_mm"].astype("float64")
    return Tidy(
        sides=_tidy_sides(tables.sides),
        treatments=_tidy_treatments(tables.treatments, as_of),
        examinations=_examinations(readings),
        readings=readings[["examination_id", "renal_unit_id", "reading_id", "finding"]].astype({"reading_id": "Int64"}),
        fragments=_tidy_fragments(tables.fragments),
        stones=_sorted(tables.stones, "stone_id", flags=["radiolucent"]),
        aims=_sorted(tables.aims, "stone_id", "side_id", flags=["left_recorded_before_access"]),
        losses=_dated(tables.losses, as_of).sort_values(["renal_unit_id", "low", "high"], ignore_index=True),
        deaths=_dated(tables.deaths, as_of).sort_values("patient_id", ignore_index=True),
        as_of=as_of,
    )


def day_number(day: dt.date) -> int:
    return (pd.Timestamp(day).normalize() - FIRST_DAY).days


def dates(days: pd.Series) -> pd.Series[pd.Timestamp]:
    """Day numbers back to dates; missing stays missing."""
    # Whole numbers: of missing floats pandas rounds memory that nobody set, and now and then warns of an overflow.
    return FIRST_DAY + pd.to_timedelta(days.astype("Int64"), unit="D")


def _days(values: pd.Series) -> pd.Series[int]:
    return values.astype("datetime64[s]").dt.floor("D").astype("int64") // 86_400


def _flag(values: pd.Series) -> pd.Series[bool]:
    """A flag that says nothing counts as not set: none of ours changes a result in the patient's favour."""
    return values.astype("boolean").fillna(False).astype(bool)


def _dated(frame: pd.DataFrame, as_of: int) -> pd.DataFrame:
    made = frame.drop(columns=["on_low", "on_high"])
    made["low"], made["high"] = _days(frame["on_low"]), _days(frame["on_high"])
    return made[made["low"] <= as_of].reset_index(drop=True)


def _sorted(frame: pd.DataFrame, *by: str, flags: list[str]) -> pd.DataFrame:
    made = frame.sort_values(list(by), ignore_index=True)
    for flag in flags:
        made[flag] = _flag(made[flag])
    return made


def _tidy_sides(sides: pd.DataFrame) -> pd.DataFrame:
    made = _sorted(sides, "side_id", flags=["access_failed", "in_cohort"])
    made["day"] = _days(made["operated_on"])
    made["course_id"] = made["course_id"].astype("Int64")
    made["stage"] = made["stage"].astype("Int64")
    made["conduct"] = made["conduct"].astype(object).where(made["conduct"].notna(), "completed")
    return made


def _tidy_treatments(treatments: pd.DataFrame, as_of: int) -> pd.DataFrame:
    made = _dated(treatments, as_of).sort_values("treatment_id", ignore_index=True)
    made["number"] = made["day_number"].astype("float64")
    return made.astype({"side_id": "Int64", "course_id": "Int64"})


def _tidy_fragments(fragments: pd.DataFrame) -> pd.DataFrame:
    made = fragments.astype({"low_mm": "float64", "high_mm": "float64", "stone_id": "Int64"})
    made["above"] = _flag(made["above"])
    return made.reset_index(drop=True)


def _examinations(readings: pd.DataFrame) -> pd.DataFrame:
    """One row per examination and renal unit: what can be known of it before anyone looks at a finding."""
    exists = readings["reading_id"].notna()
    rows = readings.assign(
        n_readings=exists.astype(np.int64),
        read=exists & readings["finding"].isin(["none_seen", "fragments"]),
    )
    by = ["examination_id", "renal_unit_id"]
    last = {"patient_id": "first", "low": "first", "high": "first", "modality": "first", "slice_mm": "first"}
    return rows.groupby(by, sort=True, as_index=False).agg(
        {**last, "after_operation": "any", "n_readings": "sum", "read": "any", "every_calyx_seen": "all"}
    )
