"""Images of a course after the one it starts from: on which day, whether they show more than that one did."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.adequacy import adequate_from, is_adequate
from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.rules import Choices
from analysis.outcomes.fragments import FAILED, FREE, element_codes
from analysis.outcomes.seen import seen
from analysis.outcomes.studies import POLICY
from analysis.outcomes.thresholds import Threshold
from analysis.outcomes.tidy import Tidy

WITHOUT, WITH, NEITHER = "without", "with", "neither"


def images(tidy: Tidy, threshold: Threshold) -> pd.DataFrame:
    """One row an examination and kidney somebody read: what it shows of fragments.

    examination_id, renal_unit_id, low, high (days), after_operation, modality, slice_mm, every_calyx_seen, any_code
    (FREE, FAILED or between: a fragment is there at all), code (the same at the threshold), new (a fragment said
    to be of a new stone), size_low, size_high (largest fragment in mm, 0 for none). Entries that are no stone do not
    count; the worst of several readings speaks.
    """
    fragments = tidy.fragments[tidy.fragments["source"] != "no_stone"]
    fragments = fragments.assign(of_doubt=False, finding_open=False)
    of_reading = pd.DataFrame(
        {
            "reading_id": fragments["reading_id"].to_numpy(),
            "any_code": element_codes(fragments, Threshold(0)),
            "code": element_codes(fragments, threshold),
            "new": (fragments["source"] == "new").to_numpy(dtype=bool),
        }
    )
    of_reading = of_reading.groupby("reading_id").max()
    readings = tidy.readings[tidy.readings["finding"].isin(["none_seen", "fragments"])]
    readings = readings.dropna(subset=["reading_id"]).astype({"reading_id": "int64"}).reset_index(drop=True)
    made = readings.join(of_reading, on="reading_id")
    unlisted = (made["finding"] == "fragments") & ~made["reading_id"].isin(tidy.fragments["reading_id"])
    made["any_code"] = made["any_code"].fillna(FREE).mask(unlisted, FAILED).astype("int64")
    small = 1 if threshold.value_mm > 0 else FAILED
    made["code"] = made["code"].fillna(FREE).mask(unlisted, small).astype("int64")
    made["new"] = made["new"].astype("boolean").fillna(False).astype(bool)
    sizes = seen(readings, tidy.fragments.assign(number=np.nan))
    made["size_low"], made["size_high"] = sizes["size_low"].to_numpy(), sizes["size_high"].to_numpy()
    by = ["examination_id", "renal_unit_id"]
    folded = made.groupby(by, as_index=False)[["any_code", "code", "new", "size_low", "size_high"]].max()
    held = tidy.examinations[[*by, "low", "high", "after_operation", "modality", "slice_mm", "every_calyx_seen"]]
    return folded.merge(held, on=by, validate="one_to_one")


def looks_after(
    base: pd.DataFrame, shown: pd.DataFrame, tidy: Tidy, definition: Definition, choices: Choices
) -> pd.DataFrame:
    """Images after that of the origin, a row each: key, day, any_code, code, new, size_low, size_high, modality, vague.

    base: key, renal_unit_id, course_id, origin_low, origin_high, stop (day of the next treatment or loss, infinite for
    none). On the day of that treatment an image counts as before it, unless recorded as after.
    """
    allowed = shown[shown["modality"].isin(POLICY[definition.imaging])]
    own = base[["key", "renal_unit_id", "course_id", "origin_low", "origin_high", "stop"]]
    rows = own.merge(allowed, on="renal_unit_id")
    if choices.looks == "adequate":
        rows = rows[_adequate(rows, tidy, definition)]
    day = np.floor((rows["low"] + np.minimum(rows["high"], tidy.as_of)) / 2)
    origin = np.floor((rows["origin_low"] + rows["origin_high"]) / 2)
    before = (day < rows["stop"]) | ((day == rows["stop"]) & ~rows["after_operation"])
    kept: pd.DataFrame = rows.assign(day=day, vague=rows["low"] < rows["high"])[(day > origin) & before]
    columns = ["key", "day", "any_code", "code", "new", "size_low", "size_high", "modality", "vague"]
    return pd.DataFrame(kept.sort_values(["key", "day", "examination_id"], ignore_index=True)[columns])


def _adequate(rows: pd.DataFrame, tidy: Tidy, definition: Definition) -> np.ndarray:
    hidden = tidy.stones.loc[tidy.stones["radiolucent"], "course_id"]
    reach = adequate_from(
        definition.adequacy,
        modality=rows["modality"],
        slice_mm=rows["slice_mm"],
        every_calyx_seen=rows["every_calyx_seen"],
        radiolucent=rows["course_id"].isin(hidden),
        assume_slice_mm=definition.assume_slice_mm,
    )
    (threshold,) = definition.thresholds
    return is_adequate(reach, threshold)


def judged_looks(looks: pd.DataFrame, clear: pd.Series[bool]) -> pd.DataFrame:
    """looks with `shows`: WITH a recurrence, WITHOUT, or NEITHER (a size that settles nothing); and `what` it shows.

    clear: by key, whether the image of the origin had shown no fragment at all.
    """
    was_clear = looks["key"].map(clear).astype(bool)
    code = looks["any_code"].where(was_clear, looks["code"])
    back = looks["new"] | (code == FAILED)
    what = np.select(
        [looks["new"], was_clear], ["new stone on an image", "fragment where none was"], default="above the threshold"
    )
    shows = np.select([back, code == FREE], [WITH, WITHOUT], default=NEITHER)
    return looks.assign(shows=shows, what=what.astype(object))
