"""To which course of a patient something that happened belongs, and what part of it."""

from __future__ import annotations

import numpy as np
import pandas as pd


def courses_begun(sides: pd.DataFrame) -> pd.DataFrame:
    """Every course with its index side: course_id, patient_id, renal_unit_id, index_side, begun_on, begun_number.

    sides: side_id, course_id, patient_id, renal_unit_id, operated_on, day_number, is_index.
    """
    index = sides[sides["is_index"].fillna(False).to_numpy(dtype=bool)]
    named = {"side_id": "index_side", "operated_on": "begun_on", "day_number": "begun_number"}
    made = index.rename(columns=named)[["course_id", "patient_id", "renal_unit_id", *named.values()]]
    return made.astype({"course_id": "int64"}).reset_index(drop=True)


def placed(events: pd.DataFrame, begun: pd.DataFrame, horizon: int) -> pd.DataFrame:
    """The courses that events belong to: one row an event and course, with its share and whether that is settled.

    events: event_id, patient_id, renal_unit_id (Int64; missing where none is named), on_low and on_high (dates, alike
    when exact), and number: what happened on the day of an index belongs to that course when its number of the day is
    not below the index's, NaN counts as before it. An event may have several rows, one a renal unit.

    begun: from `courses_begun`. horizon: last day, the index being day 0. An event that follows several courses within
    their horizons is shared equally. A date known to the month or year that could place it otherwise, in another
    course or outside the horizon, leaves it unsettled.

    Columns: event_id, course_id, share, settled, days (from the index to on_low). Events outside every horizon have
    no row.
    """
    early, late = (_on(events, day, begun, horizon) for day in ("on_low", "on_high"))
    both = early.merge(late, on=["event_id", "course_id"], how="outer", suffixes=("", "_late"), indicator=True)
    both["settled"] = (both["_merge"] == "both").to_numpy(dtype=bool)
    both["days"] = both["days"].fillna(both["days_late"])
    # Half settled is not settled: the part of each course hangs on all of them.
    both["settled"] = both.groupby("event_id")["settled"].transform("all")
    both["share"] = 1.0 / both.groupby("event_id")["course_id"].transform("size")
    return both[["event_id", "course_id", "share", "settled", "days"]].reset_index(drop=True)


def _on(events: pd.DataFrame, day: str, begun: pd.DataFrame, horizon: int) -> pd.DataFrame:
    """event_id, course_id and days, were every event on that day."""
    asked = events[["event_id", "patient_id", "renal_unit_id", "number"]].assign(on=events[day])
    asked = asked.assign(row=np.arange(len(asked)))
    pairs = asked.merge(begun.rename(columns={"renal_unit_id": "begun_unit"}), on="patient_id")
    unit = pairs["renal_unit_id"].isna() | (pairs["renal_unit_id"] == pairs["begun_unit"]).fillna(False)
    same_day = (pairs["on"] == pairs["begun_on"]) & (pairs["number"] >= pairs["begun_number"])
    follows = unit.to_numpy(dtype=bool) & ((pairs["on"] > pairs["begun_on"]) | same_day).to_numpy(dtype=bool)
    pairs = pairs[follows]
    order = pairs["begun_on"].astype("int64") * 100 + pairs["begun_number"]
    last = order == order.groupby(pairs["row"]).transform("max")
    days = (pairs["on"] - pairs["begun_on"]).dt.days
    within = pairs.assign(days=days)[(last & (days <= horizon)).to_numpy(dtype=bool)]
    return within[["event_id", "course_id", "days"]].drop_duplicates(["event_id", "course_id"])
