"""The one study that speaks for a side, picked without looking at any threshold or finding.

The only thing read of a finding is whether there is one at all: an examination without a reading of the
renal unit, or with indeterminate ones alone, is picked only when nothing else is there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.adequacy import adequate_from, effective_slice
from analysis.outcomes.definition import Definition
from analysis.outcomes.ends import Ends
from analysis.outcomes.pairing import middle, paired
from analysis.outcomes.tidy import Tidy

POLICY: dict[str, tuple[str, ...]] = {
    "any": ("second_look", "ct", "ultrasound", "kub", "other"),
    "ct": ("ct",),
    "us": ("ultrasound",),
    "kub": ("kub",),
    "us+kub": ("ultrasound", "kub"),
    "second-look": ("second_look",),
}
"""Modalities of examination that each imaging policy reads."""

RANK = {"second_look": 0, "ct": 1, "us+kub": 2, "ultrasound": 3, "kub": 4, "other": 5}
INCOMPLETE_SECOND_LOOK = RANK["other"]


@dataclass(frozen=True)
class Picked:
    """studies: one row per key that has one (index = key), with examination_id, second_examination_id,
        modality, slice_mm, low, high, days_after, adequate_from (mm), n_readings, read.
    unsettled: studies that may have counted but whose date does not settle window or order, per key.
    held_by_retreatment, held_by_loss: per key, a study was held back by the vague date of one.
    """

    studies: pd.DataFrame
    unsettled: pd.Series[int]
    held_by_retreatment: pd.Series[bool]
    held_by_loss: pd.Series[bool]


def pick(judged: pd.DataFrame, ends: Ends, tidy: Tidy, definition: Definition) -> Picked:
    """Pick one study for every row of `judged`; see `Picked`."""
    seen = _within_reach(judged, ends, tidy, definition)
    keys = judged["key"]
    unsettled = seen[~seen["usable"]].groupby("key").size().reindex(keys, fill_value=0)
    held = seen.groupby("key")[["held_by_retreatment", "held_by_loss"]].any().reindex(keys, fill_value=False)
    studies = paired(seen[seen["usable"]], definition.imaging)
    studies = studies.merge(_radiolucent(judged, tidy), on="key", validate="many_to_one")
    studies["adequate_from"] = adequate_from(
        definition.adequacy,
        modality=studies["modality"],
        slice_mm=studies["slice_mm"],
        every_calyx_seen=studies["every_calyx_seen"],
        radiolucent=studies["radiolucent"],
        assume_slice_mm=definition.assume_slice_mm,
    )
    first = _in_order(studies, definition).drop_duplicates("key").set_index("key").sort_index()
    return Picked(first, unsettled.astype(np.int64), held["held_by_retreatment"], held["held_by_loss"])


def _within_reach(judged: pd.DataFrame, ends: Ends, tidy: Tidy, definition: Definition) -> pd.DataFrame:
    """Every examination of each row's renal unit that may lie in its window and before its end.

    `usable`: its date settles both. `held_by_...`: a vaguely dated retreatment or loss is why it is not.
    """
    allowed = tidy.examinations[tidy.examinations["modality"].isin(POLICY[definition.imaging])]
    own = judged[["key", "renal_unit_id", "anchor_low", "anchor_high"]]
    rows = own.merge(allowed, on="renal_unit_id").merge(ends.frame.reset_index(), on="key", validate="many_to_one")
    first, last = definition.window
    low, high, after = rows["low"], rows["high"], rows["after_operation"]
    exact = low == high
    may_be_in = (high >= rows["anchor_low"] + first) & (low <= rows["anchor_high"] + last)
    surely_in = (low >= rows["anchor_high"] + first) & (high <= rows["anchor_low"] + last)
    # On the day of the operation it was done before it, unless recorded as after.
    on_the_day = low == rows["anchor_high"]
    before_own = on_the_day & exact & ~after & (rows["anchor_low"] == rows["anchor_high"])
    surely_in &= ~on_the_day | (exact & after)

    before_retreatment = (high < rows["retreated_low"]) | ((high == rows["retreated_low"]) & ~after)
    before_end = before_retreatment & (high <= rows["lost_low"])
    after_end = (
        (low > rows["retreated_high"])
        | ((low == rows["retreated_high"]) & after)
        | (low > rows["lost_high"])
        | (low > rows["died_high"])
    )
    reachable = may_be_in & ~before_own & ~after_end
    rows["usable"] = surely_in & before_end
    rows["held_by_retreatment"] = (high > rows["retreated_vague_low"]) | ((high == rows["retreated_vague_low"]) & after)
    rows["held_by_loss"] = high > rows["lost_vague_low"]
    rows["days_after"] = middle(low, high) - middle(rows["anchor_low"], rows["anchor_high"])
    return rows[reachable].drop(columns=[*ends.frame.columns, "anchor_low", "anchor_high", "patient_id"])


def _radiolucent(judged: pd.DataFrame, tidy: Tidy) -> pd.DataFrame:
    """Per key: is a stone of the course (without a course: of the renal unit) invisible on plain film."""
    hidden = tidy.stones[tidy.stones["radiolucent"]]
    by_course = judged["course_id"].isin(hidden["course_id"])
    by_unit = judged["course_id"].isna() & judged["renal_unit_id"].isin(hidden["renal_unit_id"])
    return pd.DataFrame({"key": judged["key"], "radiolucent": (by_course | by_unit).to_numpy(dtype=bool)})


def _in_order(studies: pd.DataFrame, definition: Definition) -> pd.DataFrame:
    """Studies of each key, the one to pick first."""
    incomplete = (studies["modality"] == "second_look") & ~studies["every_calyx_seen"]
    ranked = studies.assign(
        unread=~studies["read"],
        inadequate=~np.isfinite(studies["adequate_from"]),
        distance=(studies["days_after"] - definition.target_day).abs(),
        rank=studies["modality"].map(RANK).where(~incomplete, INCOMPLETE_SECOND_LOOK),
        thickness=np.where(
            studies["modality"] == "ct", effective_slice(studies["slice_mm"], definition.assume_slice_mm), 0.0
        ),
        backwards=-studies["days_after"],
    )
    choice = {
        "nearest": ["distance", "rank", "thickness", "backwards"],
        "last": ["backwards", "rank", "thickness"],
        "best": ["rank", "thickness", "distance", "backwards"],
    }[definition.pick]
    # The identifier settles what the rule leaves open, so that no order of rows can.
    by = ["key", "unread", "inadequate", *choice, "examination_id", "second_examination_id"]
    return ranked.sort_values(by)
