"""The side whose values a unit is grouped by.

A side is its own, a course is known by its index side, a stone by the first side that aimed at it. An operation
or a patient may have been decided by one side at one threshold and by the other at the next; so that no group
depends on a threshold, the lowest-numbered side of the operation that is in the cohort and inside the denominator
speaks for it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.input_columns import STONE_REMOVAL
from analysis.reports.stone_free.packed import Packed

MADE_OF_SIDES = ("operation", "patient")


def with_references(units: Packed, sides: pd.DataFrame, definition: Definition) -> Packed:
    """The same units with their side of reference.

    sides: one row a side with side_id, operation_id, intent, conduct, access_failed and in_cohort. definition: what
    was judged, and who is inside the denominator.
    """
    if definition.unit not in MADE_OF_SIDES:
        return units
    sides = sides[sides["in_cohort"].astype(bool)]
    outside = (sides["intent"] != STONE_REMOVAL) | sides["conduct"].isin(["not_started", "no_stone_found"])
    if definition.denominator == "protocol":
        outside |= (sides["conduct"] == "abandoned") | sides["access_failed"].fillna(False)
    ranked = sides.assign(outside=outside.fillna(True)).sort_values(["operation_id", "outside", "side_id"])
    first = ranked.drop_duplicates("operation_id").set_index("operation_id")["side_id"]
    return replace(units, side_id=np.asarray(first.reindex(units.operation_id), dtype=np.int64))
