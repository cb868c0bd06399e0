"""What each reading saw as a whole: how many fragments, and how large the largest, each as a range.

An entry for one fragment counts one; several alike or a cluster count as many as were said, else two or more; dust
counts one or more, for nobody counts it. A reading that says "fragments" and lists none saw one or more of any size. A
size stated to begin at nothing ("at most 2 mm") may be said of a clear kidney too and counts from none. Entries that
are no stone (an encrusted stent, a calcification) do not count.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

SEVERAL = ("alike", "cluster")
SAYS = ("none_seen", "fragments")


def seen(readings: pd.DataFrame, fragments: pd.DataFrame) -> pd.DataFrame:
    """One row a reading, in the order of `readings`, index from 0. Columns:

    reading_id, examination_id, renal_unit_id as given; count_low, count_high: fragments seen (float, high may be
    infinite); size_low, size_high: longest diameter of the largest in mm, 0 where none was seen; a size known to be
    larger than its low end begins at the next larger number. says: the reading has a finding that says yes or no.

    readings: reading_id, examination_id, renal_unit_id, finding. fragments: reading_id, kind, number, low_mm, high_mm,
    above, source.
    """
    counted = _ranges(fragments[fragments["source"] != "no_stone"])
    of_reading = counted.groupby("reading_id").agg(
        count_low=("count_low", "sum"),
        count_high=("count_high", "sum"),
        size_low=("size_low", "max"),
        size_high=("size_high", "max"),
    )
    made = readings[["reading_id", "examination_id", "renal_unit_id"]].reset_index(drop=True)
    made = made.join(of_reading, on="reading_id")
    finding = readings["finding"].astype(object).reset_index(drop=True)
    unlisted = finding.eq("fragments") & ~made["reading_id"].isin(fragments["reading_id"])
    for name, unknown in (("count_low", 1.0), ("count_high", np.inf), ("size_high", np.inf)):
        made[name] = made[name].where(~unlisted, unknown).fillna(0.0).astype("float64")
    made["size_low"] = made["size_low"].where(~unlisted, _just_above(0.0)).fillna(0.0).astype("float64")
    return made.assign(says=finding.isin(SAYS).to_numpy(dtype=bool))


def _ranges(fragments: pd.DataFrame) -> pd.DataFrame:
    """Of each entry how many fragments it stands for and how large they are."""
    low, high = (fragments[name].astype("float64").to_numpy() for name in ("low_mm", "high_mm"))
    above = fragments["above"].fillna(False).to_numpy(dtype=bool)
    number = fragments["number"].astype("Float64").to_numpy(dtype=np.float64, na_value=np.nan)
    several = fragments["kind"].isin(SEVERAL).to_numpy(dtype=bool)
    dust = (fragments["kind"] == "dust").to_numpy(dtype=bool)
    from_nothing = (low == 0) & ~above
    least = np.where(several, 2.0, 1.0)
    count_low = np.where(from_nothing, 0.0, np.fmax(number, least))
    open_above = np.where(several | dust, np.inf, 1.0)
    count_high = np.where(np.isnan(number), open_above, np.fmax(number, least))
    count_high = np.where(dust, np.inf, count_high)
    count_low = np.where(dust & ~from_nothing, 1.0, count_low)
    starts = np.where(np.isnan(low), 0.0, low)
    size_low = np.where(above | (np.isnan(low)), np.nextafter(starts, np.inf), starts)
    return pd.DataFrame(
        {
            "reading_id": fragments["reading_id"].to_numpy(),
            "count_low": count_low,
            "count_high": count_high,
            "size_low": size_low,
            "size_high": np.where(np.isnan(high), np.inf, high),
        }
    )


def _just_above(value: float) -> float:
    return float(np.nextafter(value, np.inf))
