"""From an origin, events and an end of follow-up to one time and one cause a course.

A date known to the month or year counts at the middle of its interval, which ends on the as-of date at the latest
(nobody can have written it down later); time_earliest and time_latest hold what its ends would give. Of what falls on
one day the event counts before what competes with it. An event after the end of follow-up is not counted, because of
those without one nothing is known there either; it is marked in `event_later`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from analysis.outcomes.follow_up.rules import CENSORED, SAME_DAY

AT_RISK, NO_FOLLOW_UP = "at_risk", "no_follow_up"
NOT_FOLLOWED = "no origin, event or end can be told"
EVENT_COLUMNS = ("key", "low", "high", "cause", "what")
"""Of a frame of events: the course, first and last day it may lie on, its cause and what it was."""


def no_events() -> pd.DataFrame:
    """A frame of events without a row."""
    return pd.DataFrame({"key": [], "low": [], "high": [], "cause": [], "what": []}).astype(
        {"key": "int64", "low": "float64", "high": "float64", "cause": "int64", "what": object}
    )


def together(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Frames of events as one."""
    kept = [part[list(EVENT_COLUMNS)].astype({"cause": "int64", "what": object}) for part in parts if len(part)]
    return pd.concat(kept, ignore_index=True) if kept else no_events()


def timed(base: pd.DataFrame, events: pd.DataFrame, as_of: int) -> pd.DataFrame:
    """Time and cause of each course.

    base: key, origin_low, origin_high, end (day number, NaN for none), end_basis, state (AT_RISK, else why not).
    events: EVENT_COLUMNS; those before the origin have to be gone but for dates that may lie on either side.

    Returns base with origin (day number), time (days, above 0; NaN unless at risk), cause, what (of the event), vague
    (its date is no day), origin_vague, time_earliest, time_latest, event_later. A course at risk whose follow-up ends
    on the day of origin or before, without an event, gets the state NO_FOLLOW_UP.
    """
    made = base.copy()
    low, high = made["origin_low"].to_numpy(dtype=np.float64), made["origin_high"].to_numpy(dtype=np.float64)
    made["origin"] = np.floor((low + high) / 2)
    made["origin_vague"] = low < high
    placed = _placed(made, events, as_of)
    inside = placed[placed["day"] <= placed["end"]].sort_values(["key", "day", "cause", "high", "what"])
    first = inside.drop_duplicates("key").set_index("key")
    beyond = placed.loc[placed["day"] > placed["end"], "key"]
    of = first.reindex(made["key"])
    has = of["day"].notna().to_numpy()
    risk = (made["state"] == AT_RISK).to_numpy()
    counted = risk & has
    origin, end = made["origin"].to_numpy(), made["end"].to_numpy(dtype=np.float64)
    for name, day in (("time", of["day"]), ("time_earliest", of["low"]), ("time_latest", of["high"])):
        days = np.where(has, day.to_numpy(dtype=np.float64), end) - origin
        made[name] = np.where(risk, np.where(counted, np.maximum(days, SAME_DAY), days), np.nan)
    made["cause"] = np.where(counted, of["cause"].fillna(CENSORED).to_numpy(), CENSORED).astype(np.int64)
    made["what"] = np.where(counted, of["what"].fillna("").to_numpy(dtype=object), "")
    made["vague"] = counted & (of["low"] < of["high"]).to_numpy()
    made["event_later"] = risk & made["key"].isin(beyond).to_numpy() & ~counted
    unfollowed = risk & ~(made["time"] > 0).to_numpy()
    made.loc[unfollowed, "state"] = NO_FOLLOW_UP
    made.loc[unfollowed, ["time", "time_earliest", "time_latest"]] = np.nan
    return made


def _placed(base: pd.DataFrame, events: pd.DataFrame, as_of: int) -> pd.DataFrame:
    """Events after each origin, with the day they count at and the end of that course's follow-up."""
    rows = events.merge(base[["key", "origin", "end"]], on="key", how="inner", validate="many_to_one")
    rows["high"] = np.minimum(rows["high"], as_of)
    rows["day"] = np.floor((rows["low"] + rows["high"]) / 2)
    rows = rows[rows["day"] >= rows["origin"]]
    return rows.assign(low=np.maximum(rows["low"], rows["origin"]))
