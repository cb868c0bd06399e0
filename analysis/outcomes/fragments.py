"""From the fragments of a picked study to what it shows at a threshold: failed, free, or neither settled.

A fragment of size somewhere in [a, b] millimetres fails "<= t" if a > t, passes if b <= t; at "< t" it
fails if a >= t, passes if b < t; between the two it settles nothing. A fragment that was seen is larger
than nothing, whatever its size, so it fails at 0; only a size that is stated to begin at nothing ("at most 2 mm", which
may be said of a clear kidney too) settles nothing there.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.thresholds import Threshold
from analysis.outcomes.tidy import Tidy

FREE, UNDECIDED, FAILED = 0, 1, 2
"""What is shown, so ordered that the worst of several is their maximum: of the fragments of a reading, of the
readings of an examination, and of the two examinations of a pair alike."""


def shown(elements: pd.DataFrame, keys: pd.Index[int], threshold: Threshold) -> npt.NDArray[np.int8]:
    """What the picked study of each key shows at the threshold: FREE when it has no element at all."""
    codes = element_codes(elements, threshold)
    result = np.zeros(len(keys), dtype=np.int8)
    np.maximum.at(result, keys.get_indexer(pd.Index(elements["key"])), codes)
    return result


def element_codes(elements: pd.DataFrame, threshold: Threshold) -> npt.NDArray[np.int8]:
    """FREE, UNDECIDED or FAILED for each element, by the rule at the top of this file."""
    low = elements["low_mm"].fillna(0.0).to_numpy(dtype=np.float64)
    high = elements["high_mm"].fillna(np.inf).to_numpy(dtype=np.float64)
    above = elements["above"].to_numpy(dtype=bool)
    value = threshold.value_mm
    if threshold.strict:
        failed, free = low >= value, high < value
    else:
        failed, free = (low > value) | (above & (low >= value)), high <= value
    if value == 0:
        from_nothing = (elements["low_mm"] == 0).to_numpy(dtype=bool, na_value=False) & ~above
        failed, free = ~from_nothing, np.zeros_like(free)
    codes = np.where(failed, FAILED, np.where(free, FREE, UNDECIDED))
    # A fragment that may be of this stone or of another cannot fail this one; a small one harms neither.
    codes = np.where(elements["of_doubt"].to_numpy(dtype=bool), np.minimum(codes, UNDECIDED), codes)
    codes = np.where(elements["finding_open"].to_numpy(dtype=bool), UNDECIDED, codes)
    return codes.astype(np.int8)


def elements_of(
    picked: pd.DataFrame, judged: pd.DataFrame, tidy: Tidy, *, left_out: pd.DataFrame | None
) -> pd.DataFrame:
    """Everything on the picked studies that can keep a side from being free.

    picked: index = key, with examination_id and second_examination_id.
    left_out: (key, stone_id) of stones that do not count, and with them no new stone does; None counts all.

    Returns key, low_mm, high_mm, above, of_doubt, finding_open. A reading that says "fragments" without
    listing one is a fragment without size; an indeterminate or absent reading is an open finding.
    """
    readings = _readings(picked, judged, tidy)
    listed = readings.dropna(subset=["reading_id"]).astype({"reading_id": "int64"})
    listed = listed.merge(tidy.fragments, on="reading_id", validate="many_to_many")
    counted = _counted(listed, left_out)
    unlisted = readings[(readings["finding"] == "fragments") & ~readings["reading_id"].isin(listed["reading_id"])]
    opened = readings[~readings["finding"].isin(["none_seen", "fragments"])]
    listed = counted.assign(finding_open=False)
    parts = [
        listed,
        unlisted.assign(low_mm=np.nan, high_mm=np.nan, above=False, linked=False, finding_open=False),
        opened.assign(low_mm=np.nan, high_mm=np.nan, above=False, linked=True, finding_open=True),
    ]
    columns = ["key", "low_mm", "high_mm", "above", "linked", "finding_open"]
    made = pd.concat([part[columns] for part in parts if len(part)] or [counted.assign(finding_open=False)[columns]])
    doubtful = judged.set_index("key")["stone_id"].notna() & ~_sole(judged, tidy)
    of_doubt = ~made["linked"].astype(bool) & made["key"].map(doubtful).astype(bool)
    return made.assign(of_doubt=of_doubt).drop(columns="linked").reset_index(drop=True)


def _readings(picked: pd.DataFrame, judged: pd.DataFrame, tidy: Tidy) -> pd.DataFrame:
    """Readings of the picked examinations for each key's renal unit, with the stone judged if it is one."""
    studies = picked.reset_index()[["key", "examination_id", "second_examination_id"]]
    second = studies.dropna(subset=["second_examination_id"]).astype({"second_examination_id": "int64"})
    both = pd.concat(
        [
            studies[["key", "examination_id"]],
            second[["key", "second_examination_id"]].set_axis(["key", "examination_id"], axis=1),
        ]
    )
    both = both.merge(judged[["key", "renal_unit_id", "stone_id"]], on="key", validate="many_to_one")
    both = both.rename(columns={"stone_id": "judged_stone"})
    rows = both.merge(tidy.readings, on=["examination_id", "renal_unit_id"], validate="many_to_many")
    # A row without a reading says only that nobody read this unit; beside a reading it says nothing.
    has_one = rows["reading_id"].notna().groupby([rows["key"], rows["examination_id"]]).transform("any")
    return rows[rows["reading_id"].notna() | ~has_one]


def _counted(listed: pd.DataFrame, left_out: pd.DataFrame | None) -> pd.DataFrame:
    """Fragments that count for their key, with `linked`: known to be of a stone of the course."""
    rows = listed[listed["source"] != "no_stone"]
    linked = rows["stone_id"].notna()
    if left_out is not None and len(rows):
        names = pd.MultiIndex.from_frame(left_out)
        rows = rows[(rows["source"] != "new") & ~_named(rows, names)]
        linked = rows["stone_id"].notna()
    rows = rows.assign(linked=linked)
    judges_stone = rows["judged_stone"].notna()
    other = linked & (rows["stone_id"] != rows["judged_stone"]).fillna(False).astype(bool)
    return rows[~(judges_stone & (other | (rows["source"] == "new")))]


def _named(rows: pd.DataFrame, names: pd.MultiIndex) -> npt.NDArray[np.bool_]:
    numbers = rows["stone_id"].fillna(-1).astype("int64")
    found: npt.NDArray[np.bool_] = pd.MultiIndex.from_arrays([rows["key"], numbers]).isin(names)
    return found


def _sole(judged: pd.DataFrame, tidy: Tidy) -> pd.Series[bool]:
    """Per key: the course has one stone alone, so that a fragment not linked can be of no other."""
    number = tidy.stones.groupby("course_id").size()
    return judged.set_index("key")["course_id"].map(number).fillna(0).eq(1)


def left_on_purpose(tidy: Tidy, sides_of: pd.DataFrame) -> pd.DataFrame:
    """(key, stone_id) of stones that one operation left on purpose, said before access, and none aimed at.

    sides_of: key and side_id of every operation judged together.
    """
    rows = sides_of.merge(tidy.aims, on="side_id")
    left = rows[(rows["aimed"] == "left_on_purpose") & rows["left_recorded_before_access"]]
    aimed = pd.MultiIndex.from_frame(rows.loc[rows["aimed"] == "aimed_at", ["key", "stone_id"]])
    left = left[["key", "stone_id"]].drop_duplicates()
    return left[~pd.MultiIndex.from_frame(left).isin(aimed)]
