"""Courses whose time runs from an image: that which confirmed them stone-free, or that which found fragments."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.outcomes.follow_up.happened import courses
from analysis.outcomes.follow_up.timed import AT_RISK
from analysis.outcomes.tidy import Tidy

_OTHER = {"unknown": "stone_free_unknown", "not_due": "not_due", "died": "died_before"}


def from_image(tidy: Tidy, statuses: pd.DataFrame, *, free: bool) -> pd.DataFrame:
    """Courses with their origin, the image picked, and state.

    statuses: `stone_free_status` of unit course at one threshold. free: at risk are the stone-free; else those with
    fragments on the picked image. Adds origin_low, origin_high (of a pair those of its later part), examination_id,
    second_examination_id.
    """
    base = courses(tidy)
    told = statuses.set_index("side_id")[["status", "rung", "examination_id", "second_examination_id"]]
    base = base.join(told, on="side_id")
    shown = base["rung"] == ("study_free" if free else "study_failed")
    otherwise = base["status"].map(_OTHER)
    if free:
        otherwise = otherwise.where(base["status"] != "failed", "not_stone_free")
    else:
        otherwise = otherwise.where(base["status"] != "failed", "failed_unseen")
        otherwise = otherwise.where(base["status"] != "free", "no_fragments")
    outside = base["rung"].astype(object).where(base["status"] == "out", base["out"])
    state = np.where(shown, AT_RISK, np.where(base["status"] == "out", outside, otherwise))
    days = tidy.examinations.drop_duplicates("examination_id").set_index("examination_id")[["low", "high"]]
    parts = [days.reindex(base[name].astype("float64")) for name in ("examination_id", "second_examination_id")]
    for bound in ("low", "high"):
        one, two = (part[bound].to_numpy(dtype=np.float64) for part in parts)
        base[f"origin_{bound}"] = np.where(shown, np.fmax(one, two), np.nan)
    return base.assign(state=np.where(shown & base["origin_low"].isna(), "no_image_day", state))


def origin_images(base: pd.DataFrame, shown: pd.DataFrame) -> pd.DataFrame:
    """What the image of the origin showed, index key: any_code, size_high (largest, mm) and `modalities` (a set)."""
    parts = []
    for name in ("examination_id", "second_examination_id"):
        own = base[["key", "renal_unit_id", name]].dropna(subset=[name]).rename(columns={name: "examination_id"})
        own["examination_id"] = own["examination_id"].astype("int64")
        parts.append(own.merge(shown, on=["examination_id", "renal_unit_id"]))
    both = pd.concat(parts, ignore_index=True)
    by_key = both.groupby("key")
    return pd.DataFrame(
        {
            "any_code": by_key["any_code"].max(),
            "size_high": by_key["size_high"].max(),
            "modalities": by_key["modality"].agg(frozenset),
        }
    )
