"""How each unit became known, from the parts it is made of: what weights and imputations are worked out from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.outcomes.size_classes import ELIGIBLE
from analysis.reports.request.grouping import BoolArray, IntArray
from analysis.reports.stone_free.packed import Packed


@dataclass(frozen=True, eq=False)
class HowKnown:
    """Of each unit, shape (units,). free: looked at only where it is observed or fixed. observed: every part has a
    study adequate at the threshold, or is fixed. fixed: counts as it does whatever a study would show.
    """

    free: BoolArray
    observed: BoolArray
    fixed: BoolArray


def eligible_units(units: Packed) -> BoolArray:
    """Known or unknown, shape (units,); no threshold changes that."""
    if not units.patterns:
        return np.zeros(units.units, dtype=bool)
    inside: BoolArray = units.is_status(*ELIGIBLE)[:, 0][units.pattern]
    return inside


def place_of(units: Packed, unit_id: pd.Series) -> IntArray:
    """The place of each part's unit."""
    return np.asarray(pd.Index(units.unit_id).get_indexer(pd.Index(unit_id)), dtype=np.int64)


def how_known(units: Packed, parts: pd.DataFrame, code: str) -> HowKnown:
    """How each unit became known at a threshold.

    parts: from `unit_parts`. A part that would have failed without a study (treated again, abandoned, kidney lost)
    is sure to be known and so is fixed, whether it was studied or not: its chance is 1, and as one of those scanned it
    would stand for others that it is not like. A unit is fixed when all parts are, or when one that is has failed;
    not when another has failed on its scan, since which of them were scanned would then hang on what was found.
    """
    rows = parts[(parts["threshold"] == code) & parts["status"].isin(ELIGIBLE)]
    place = place_of(units, rows["unit_id"])
    known = rows["status"].isin(["free", "failed"]).to_numpy(dtype=bool)
    failed = (rows["status"] == "failed").to_numpy(dtype=bool)
    settled = rows["settled_without"].to_numpy(dtype=bool)
    fixed = known & settled
    observed = known & ~settled & rows["adequate"].to_numpy(dtype=bool)

    def number(mark: BoolArray) -> IntArray:
        return np.bincount(place[mark], minlength=units.units)

    every = np.bincount(place, minlength=units.units)
    lost, all_fixed = number(fixed & failed) > 0, (number(fixed) == every) & (every > 0)
    unit_fixed = lost | all_fixed
    unit_observed = (number(fixed | observed) == every) & (every > 0) & ~unit_fixed
    return HowKnown(free=(number(failed) == 0) & (every > 0), observed=unit_observed, fixed=unit_fixed)
