"""How much stone there is: measures of one stone, and of all stones of a treated side.

Lengths in mm, areas in mm2, volumes in mm3. A measure of several stones is missing when that of one of them is.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

VERSION = "burden-1"
SOURCES = {
    "largest_mm": "longest diameter in any plane of the largest stone",
    "cumulative_mm": "sum of the longest diameters of all stones of the side",
    "area_mm2": "L x W x pi/4 a stone, added up (Tiselius HG, Andersson A, J Endourol 2003; from memory)",
    "ellipsoid_mm3": "pi/6 x L x W x D a stone, added up; guidelines write pi x 0.167, 0.2 % more (from memory)",
    "segmented_mm3": "as segmented, added up",
    "volume_mm3": "as segmented where it is, else of the ellipsoid; volume_method says which",
    "density_hu": "attenuation of the largest stone; density_method says how it was measured",
}
"""Each measure and where it comes from."""

VOLUME_METHODS = ("segmented", "ellipsoid", "both")
"""How the volume of a side was got; `both` when some of its stones were segmented and others not."""


def area_mm2(length_mm: float, width_mm: float) -> float:
    """Area of one stone as an ellipse: L x W x pi/4. Tiselius HG, Andersson A, J Endourol 2003 (from memory)."""
    return length_mm * width_mm * math.pi / 4


def ellipsoid_mm3(length_mm: float, width_mm: float, depth_mm: float) -> float:
    """Volume of one stone as an ellipsoid: pi/6 x L x W x D; with three equal diameters, a sphere."""
    return length_mm * width_mm * depth_mm * math.pi / 6


def side_burden(stones: pd.DataFrame) -> pd.DataFrame:
    """One row a side that has stones, by side_id, from one row a stone.

    stones: side_id, stone_number, length_mm, width_mm, depth_mm, volume_mm3 (as segmented), attenuation_hu,
    attenuation_method; missing values allowed. Columns: stone_count, largest_mm, cumulative_mm, area_mm2,
    ellipsoid_mm3, segmented_mm3, volume_mm3, volume_method (one of VOLUME_METHODS or missing), density_hu,
    density_method. Of several stones of the greatest length the lowest numbered gives density and method; where a
    length is missing beside another stone, nobody knows which is the largest, and there is none.
    """
    number = {name: stones[name].to_numpy(dtype=np.float64, na_value=np.nan) for name in MEASURED}
    plain = pd.DataFrame({"side_id": stones["side_id"].to_numpy(), **number})
    plain["area_mm2"] = plain["length_mm"] * plain["width_mm"] * (math.pi / 4)
    plain["ellipsoid_mm3"] = plain["length_mm"] * plain["width_mm"] * plain["depth_mm"] * (math.pi / 6)
    segmented = plain["volume_mm3"].notna()
    plain["best_mm3"] = plain["volume_mm3"].where(segmented, plain["ellipsoid_mm3"])
    by_side = plain.groupby("side_id", sort=True)
    made = pd.DataFrame({"stone_count": by_side.size()})
    made["largest_mm"] = by_side["length_mm"].max()
    for name, of in ADDED.items():
        made[name] = by_side[of].agg(_all_or_none)
    made.loc[made["cumulative_mm"].isna(), "largest_mm"] = np.nan
    some, every = segmented.groupby(plain["side_id"]).any(), segmented.groupby(plain["side_id"]).all()
    method = np.select([every, some], ["segmented", "both"], default="ellipsoid").astype(object)
    made["volume_method"] = pd.Series(method, index=made.index).where(made["volume_mm3"].notna())
    return made.join(_density(stones, plain, made)).reset_index()


MEASURED = ("length_mm", "width_mm", "depth_mm", "volume_mm3", "stone_number")
ADDED = {
    "cumulative_mm": "length_mm",
    "area_mm2": "area_mm2",
    "ellipsoid_mm3": "ellipsoid_mm3",
    "segmented_mm3": "volume_mm3",
    "volume_mm3": "best_mm3",
}


def _all_or_none(values: Any) -> float:
    """The sum, to the last bit the same in any order; missing when one is."""
    listed = values.tolist()
    return math.nan if any(math.isnan(value) for value in listed) else math.fsum(listed)


def _density(stones: pd.DataFrame, plain: pd.DataFrame, made: pd.DataFrame) -> pd.DataFrame:
    order = plain.sort_values(["side_id", "length_mm", "stone_number"], ascending=[True, False, True])
    first = order.drop_duplicates("side_id").index
    told = pd.DataFrame(
        {
            "density_hu": stones["attenuation_hu"].to_numpy(dtype=np.float64, na_value=np.nan)[first],
            "density_method": stones["attenuation_method"].astype(object).to_numpy()[first],
        },
        index=plain["side_id"].to_numpy()[first],
    )
    known = (made["largest_mm"].notna() | (made["stone_count"] == 1)).to_numpy()
    told = told.loc[made.index]
    told["density_method"] = told["density_method"].where(told["density_hu"].notna() & known)
    return told.assign(density_hu=told["density_hu"].where(known))
