"""What is judged once: a side, a course or a stone, with the day it is anchored on and why it may be out.

One row each, named by `key`. Columns: key, side_id (the side of reference: the index side of a course, the
first side that aimed at a stone), operation_id, patient_id, renal_unit_id, course_id, stone_id,
day and number (own operation: day and number of that day), anchor_low and anchor_high (day numbers; they
differ only when the last planned stage was elsewhere and its date is not exact), conduct (of the anchor),
out (code of the reason for standing outside the denominator, empty when inside).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.input_columns import STONE_REMOVAL
from analysis.outcomes.tidy import Tidy

OUT_RUNGS = (
    "out_after_as_of",
    "out_intent",
    "out_not_started",
    "out_no_stone",
    "out_access_failed",
    "out_abandoned",
)
"""Reasons for standing outside the denominator; the first that fits is the one counted."""

SESSION_KINDS: dict[str, tuple[str, ...]] = {
    "single": (),
    "planned": ("planned",),
    "auxiliary": ("planned", "auxiliary"),
}
"""Kinds of later treatment that belong to what is judged, and so are no end of it."""


def judged(tidy: Tidy, definition: Definition) -> pd.DataFrame:
    """One row per side, course or stone that the unit is made of; sides outside the cohort have none."""
    sides = tidy.sides[tidy.sides["in_cohort"]]
    by_course = definition.unit == "course" or definition.sessions != "single"
    if by_course:
        sides = sides[(sides["stage"] == 0).fillna(False).astype(bool)]
    made = sides[["side_id", "operation_id", "patient_id", "renal_unit_id", "course_id", "day", "intent"]].assign(
        number=sides["day_number"].astype("float64"),
        own_conduct=sides["conduct"],
        conduct=sides["conduct"],
        access_failed=sides["access_failed"],
        anchor_low=sides["day"],
        anchor_high=sides["day"],
    )
    made = made.reset_index(drop=True)
    if definition.sessions != "single":
        made = _anchored_on_last(made, tidy, SESSION_KINDS[definition.sessions])
    made["out"] = _out(made, tidy.as_of, per_protocol=definition.denominator == "protocol")
    if definition.unit == "stone":
        made = _by_stone(made, tidy)
    else:
        made["stone_id"] = pd.array([pd.NA] * len(made), dtype="Int64")
    made = made.drop(columns=["intent", "own_conduct", "access_failed"])
    return made.reset_index(drop=True).assign(key=np.arange(len(made), dtype=np.int64))


def own_treatments(courses: pd.DataFrame, tidy: Tidy, kinds: tuple[str, ...]) -> pd.DataFrame:
    """Treatments of these kinds that belong to each course, with the course's reference `index_side`."""
    later = tidy.treatments[tidy.treatments["kind"].isin(kinds) & tidy.treatments["course_id"].notna()]
    index = courses[["course_id", "renal_unit_id", "side_id"]].rename(columns={"side_id": "index_side"})
    return later.merge(index, on=["course_id", "renal_unit_id"], validate="many_to_one")


def _anchored_on_last(made: pd.DataFrame, tidy: Tidy, kinds: tuple[str, ...]) -> pd.DataFrame:
    """Move each course's anchor to its last treatment of these kinds, with that one's conduct and access."""
    later = own_treatments(made, tidy, kinds)
    later = later.sort_values(["high", "low", "number", "treatment_id"], na_position="first")
    lows, highs = (later.groupby("index_side")[bound].max() for bound in ("low", "high"))
    last = later.drop_duplicates("index_side", keep="last").set_index("index_side")
    of_side = tidy.sides.set_index("side_id")[["conduct", "access_failed"]].reindex(last["side_id"].astype("float64"))
    # A stage done elsewhere has no side here: nothing says that it was abandoned or missed its way.
    conduct = pd.Series(of_side["conduct"].fillna("completed").to_numpy(), index=last.index, dtype=object)
    failed = pd.Series(of_side["access_failed"].eq(True).to_numpy(), index=last.index)
    low, high = made["side_id"].map(lows), made["side_id"].map(highs)
    moves = (high.notna()) & (high >= made["day"])
    return made.assign(
        anchor_low=np.where(moves, np.fmax(low, made["day"]), made["anchor_low"]).astype(np.int64),
        anchor_high=np.where(moves, high, made["anchor_high"]).astype(np.int64),
        conduct=np.where(moves, made["side_id"].map(conduct), made["conduct"]),
        access_failed=np.where(moves, made["side_id"].map(failed).eq(True), made["access_failed"]).astype(bool),
    )


def _out(made: pd.DataFrame, as_of: int, *, per_protocol: bool) -> pd.Series[str]:
    """Code of the first reason that takes each row out; purpose and start are those of the own operation."""
    never = pd.Series(False, index=made.index)
    reasons = (
        made["day"] > as_of,
        made["intent"] != STONE_REMOVAL,
        made["own_conduct"] == "not_started",
        made["own_conduct"] == "no_stone_found",
        made["access_failed"] if per_protocol else never,
        (made["conduct"] == "abandoned") if per_protocol else never,
    )
    chosen = np.select([reason.to_numpy(dtype=bool) for reason in reasons], OUT_RUNGS, default="")
    return pd.Series(chosen, index=made.index, dtype=object)


def _by_stone(made: pd.DataFrame, tidy: Tidy) -> pd.DataFrame:
    """One row per stone aimed at, on the first side that aimed at it and is inside the denominator."""
    aims = tidy.aims.loc[tidy.aims["aimed"] == "aimed_at", ["stone_id", "side_id"]]
    stones = tidy.stones[["stone_id", "course_id"]].rename(columns={"course_id": "stone_course"})
    rows = aims.merge(stones, on="stone_id", validate="many_to_one").merge(made, on="side_id", validate="many_to_one")
    rows = rows.assign(outside=rows["out"] != "").sort_values(["stone_id", "outside", "day", "number", "side_id"])
    rows = rows.drop_duplicates("stone_id")
    rows["course_id"] = rows["stone_course"].astype("Int64")
    rows["stone_id"] = rows["stone_id"].astype("Int64")
    return rows.drop(columns=["outside", "stone_course"])
