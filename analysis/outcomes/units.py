"""From what was judged once (sides, courses, stones) to the unit asked for.

An operation or a patient is judged from those of its sides, or courses, that are inside the denominator:
any not due, it is not due; else any died, it died; else any failed, it failed; else any unknown, it is
unknown; else it is free. Its row is the row of the side that decided.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition

WORST_FIRST = ("not_due", "died", "failed", "unknown", "free", "out")

UNIT_ID = {
    "side": "side_id",
    "stone": "stone_id",
    "operation": "operation_id",
    "course": "course_id",
    "patient": "patient_id",
}

COLUMNS = (
    "unit_id",
    "patient_id",
    "operation_id",
    "side_id",
    "renal_unit_id",
    "course_id",
    "stone_id",
    "threshold",
    "threshold_mm",
    "comparison",
    "status",
    "rung",
    "decided_by_study",
    "examination_id",
    "second_examination_id",
    "modality",
    "slice_mm",
    "studied_on",
    "days_after",
    "adequate",
    "failed_inadequate",
    "n_readings",
    "note",
    "anchor_on",
    "undecided_studies",
    "undecided_retreatments",
    "undecided_losses",
    "undecided_deaths",
)
"""The columns of the result, in their order."""

COUNTS = tuple(name for name in COLUMNS if name.startswith("undecided_"))


def as_units(rows: pd.DataFrame, definition: Definition, order: Mapping[str, int]) -> pd.DataFrame:
    """The result in its final shape. `order` is the place of each threshold code in the request."""
    rows = parts_of_units(rows, definition)
    rows = rows.assign(place=rows["threshold"].map(order))
    if definition.unit in ("operation", "patient"):
        rows = _combined(rows)
    return rows.sort_values(["unit_id", "place"], ignore_index=True)[list(COLUMNS)]


def parts_of_units(rows: pd.DataFrame, definition: Definition) -> pd.DataFrame:
    """The judged parts that a unit is made of, with its `unit_id`; of a patient those of the first operation alone."""
    if definition.unit == "patient":
        rows = _of_first_day(rows, by_course=definition.sessions != "single")
    return rows.assign(unit_id=rows[UNIT_ID[definition.unit]].astype("int64"))


def _of_first_day(rows: pd.DataFrame, *, by_course: bool) -> pd.DataFrame:
    """Of each patient the sides of the first operation inside the denominator, or courses begun that day.

    A patient with none inside keeps the first operation of all, and stands outside with it.
    """
    by = ["outside", "day"] if by_course else ["outside", "day", "number", "operation_id"]
    marked = rows.assign(outside=rows["out"] != "").sort_values([*by, "side_id"])
    marks = ["patient_id", "day"] if by_course else ["patient_id", "operation_id"]
    first = pd.MultiIndex.from_frame(marked.drop_duplicates("patient_id")[marks])
    return rows[pd.MultiIndex.from_frame(rows[marks]).isin(first)]


def _combined(rows: pd.DataFrame) -> pd.DataFrame:
    """The deciding row of each unit and threshold. Among several that decide alike: of failures one that does
    not hang on an inadequate study, of others one that does; then the lowest side."""
    worst = rows["status"].map({status: place for place, status in enumerate(WORST_FIRST)})
    weak = np.where(rows["status"] == "failed", rows["failed_inadequate"], rows["adequate"])
    by = ["unit_id", "place"]
    ranked = rows.assign(worst=worst, weak=weak).sort_values([*by, "worst", "weak", "side_id"])
    sums = ranked.groupby(by)[list(COUNTS)].transform("sum")
    return ranked.assign(**{name: sums[name] for name in COUNTS}).drop_duplicates(by)
