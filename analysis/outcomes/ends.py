"""Where looking stops: the first of the next stone treatment, loss of the kidney, and death.

Only what may lie on or before the window's last day is an end; what comes later is ignored.
An end is *certain* when its date settles both that it came after the own operation and that it came
inside the window. One that settles only less is *possible*: it can hold back a study, and it leaves the
side unknown rather than failed. A death that may lie in the window counts as in it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.judged import SESSION_KINDS
from analysis.outcomes.tidy import Tidy

NEVER = np.inf


@dataclass(frozen=True)
class Ends:
    """One row per judged key (index = key), days as float, infinity where there is none.

    retreated_low, lost_low: earliest day of a possible end.
    retreated_high, lost_high, died_high: day by which a certain end had happened.
    retreated_vague_low, lost_vague_low: earliest day of an end whose own date is not settled.
    retreated: planned, unplanned or empty, of the first certain retreatment. lost, died: certain.
    retreatment_unsettled, loss_unsettled, death_unsettled: how many have dates that do not settle order
        or window.
    """

    frame: pd.DataFrame


def ends(judged: pd.DataFrame, tidy: Tidy, definition: Definition) -> Ends:
    keys = judged["key"]
    treated = _retreatments(judged, tidy, definition)
    lost = _events(judged, tidy.losses, "renal_unit_id", definition.window[1])
    died = _events(judged, tidy.deaths, "patient_id", definition.window[1])
    first = treated[treated["certain"]].sort_values(["key", "low", "high", "number", "treatment_id"])
    first = first.drop_duplicates("key").set_index("key")
    kind = pd.Series(np.where(first["kind"] == "planned", "planned", "unplanned"), index=first.index, dtype=object)
    made = pd.DataFrame(
        {
            "retreated": kind.reindex(keys).fillna("").to_numpy(),
            "retreated_low": _least(treated, "low", keys),
            "retreated_high": _least(treated[treated["certain"]], "high", keys),
            "retreated_vague_low": _least(treated[treated["vague"]], "low", keys),
            "retreatment_unsettled": _number(treated[~treated["certain"]], keys),
            "lost": keys.isin(lost.loc[lost["certain"], "key"]).to_numpy(),
            "lost_low": _least(lost, "low", keys),
            "lost_high": _least(lost[lost["certain"]], "high", keys),
            "lost_vague_low": _least(lost[lost["vague"]], "low", keys),
            "loss_unsettled": _number(lost[~lost["certain"]], keys),
            "died": keys.isin(died["key"]).to_numpy(),
            "died_high": _least(died, "high", keys),
            "death_unsettled": _number(died[~died["certain"]], keys),
        },
        index=keys,
    )
    return Ends(made)


def _retreatments(judged: pd.DataFrame, tidy: Tidy, definition: Definition) -> pd.DataFrame:
    """Later stone treatments of the renal unit that may be an end, `low` never before the own operation."""
    own = judged[["key", "side_id", "course_id", "renal_unit_id", "day", "number", "anchor_low", "anchor_high"]]
    rows = own.merge(tidy.treatments, on="renal_unit_id", suffixes=("", "_next"))
    belongs = pd.Series(False, index=rows.index)
    if definition.unit == "course" or definition.sessions != "single":
        # Here the course is judged, not one operation: its own index and the stages waited for are no end.
        kinds = ("index", *SESSION_KINDS[definition.sessions])
        same_course = (rows["course_id"] == rows["course_id_next"]).fillna(False).astype(bool)
        belongs = same_course & rows["kind"].isin(kinds)
    itself = (rows["side_id"] == rows["side_id_next"]).fillna(False).astype(bool)
    rows = rows[~belongs & ~itself]
    exact = rows["low"] == rows["high"]
    same_day = exact & (rows["low"] == rows["day"])
    after = (rows["low"] > rows["day"]) | (same_day & (rows["number_next"] > rows["number"]))
    before = (rows["high"] < rows["day"]) | (same_day & (rows["number_next"] < rows["number"]))
    last = definition.window[1]
    certain = after & (rows["high"] <= rows["anchor_low"] + last)
    possible = ~before & (rows["low"] <= rows["anchor_high"] + last)
    return rows.assign(
        certain=certain,
        vague=~certain | ~exact,
        low=np.maximum(rows["low"], rows["day"]),
        number=rows["number_next"],
    )[possible]


def _events(judged: pd.DataFrame, events: pd.DataFrame, on: str, last: int) -> pd.DataFrame:
    """Losses or deaths that may lie in the window. One that may precede the operation came after it: a person
    who had died, or a kidney that was gone, is not operated on."""
    own = judged[["key", on, "day", "anchor_low", "anchor_high"]]
    rows = own.merge(events[[on, "low", "high"]], on=on)
    certain = rows["high"] <= rows["anchor_low"] + last
    low = np.maximum(rows["low"], rows["day"])
    possible = (rows["high"] >= rows["day"]) & (rows["low"] <= rows["anchor_high"] + last)
    return rows.assign(certain=certain, vague=~certain | (low < rows["high"]), low=low)[possible]


def _least(rows: pd.DataFrame, column: str, keys: pd.Series[int]) -> np.ndarray:
    return rows.groupby("key")[column].min().reindex(keys).fillna(NEVER).to_numpy(dtype=np.float64)


def _number(rows: pd.DataFrame, keys: pd.Series[int]) -> np.ndarray:
    return rows.groupby("key").size().reindex(keys).fillna(0).to_numpy(dtype=np.int64)
