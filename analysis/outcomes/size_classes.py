"""The size classes that what was seen leaves possible: none, up to 2, up to 4, and over 4 mm, for each judged part.

A failure at a threshold rules out the classes up to it, whatever study showed it; a free status, which only an adequate
study gives, those above it. All else leaves a class possible: an inadequate study that showed nothing leaves all four.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import judged_parts
from analysis.outcomes.thresholds import Threshold
from analysis.outcomes.units import parts_of_units

CLASS_THRESHOLDS = (Threshold(0), Threshold(2), Threshold(4))
"""The largest fragment in the first, second and third class; what is larger is in the fourth."""

SIZE_CLASSES = ("no fragment", "over 0 to 2 mm", "over 2 to 4 mm", "over 4 mm")
ELIGIBLE = ("free", "failed", "unknown")


def unit_parts(tables: Tables, definition: Definition) -> pd.DataFrame:
    """The parts of every unit at the thresholds asked and at 0, 2 and 4 mm; columns of `judged_parts` and unit_id.

    Raises TablesError when the tables are unsound.
    """
    asked = definition.thresholds
    more = tuple(one for one in CLASS_THRESHOLDS if one not in asked)
    rows = judged_parts(tables, replace(definition, thresholds=(*asked, *more)))
    return parts_of_units(rows, definition).sort_values(["unit_id", "side_id", "key"], kind="stable", ignore_index=True)


def possible_classes(parts: pd.DataFrame) -> pd.DataFrame:
    """One row a part that is eligible itself, sorted by unit and side. Columns:

    key, unit_id, side_id, patient_id. lowest, highest: places in SIZE_CLASSES, the classes left possible.
    shown_highest: the highest class that what the study shows may be, adequate or not: 0 when it shows nothing.
    settled_without: it would have failed without a study, whatever study there is. seen: `adequate` when the picked
    study is adequate at every size, so that all it could show it showed; `inadequate` when it is not; `none` without a
    study, or with one that was not read or cannot tell.

    parts: from `unit_parts`.
    """
    codes = [one.code for one in CLASS_THRESHOLDS]
    rows = parts[parts["threshold"].isin(codes) & parts["status"].isin(ELIGIBLE)]
    first = rows[rows["threshold"] == codes[0]].set_index("key")
    made = first[["unit_id", "side_id", "patient_id", "settled_without"]].copy()
    lowest, highest = np.zeros(len(made), dtype=np.int64), np.full(len(made), len(codes), dtype=np.int64)
    shown = highest.copy()
    adequate = np.zeros((len(made), len(codes)), dtype=bool)
    for place, code in enumerate(codes):
        at = rows[rows["threshold"] == code].set_index("key").reindex(made.index)
        status = at["status"].to_numpy(dtype=object)
        lowest = np.where(status == "failed", np.maximum(lowest, place + 1), lowest)
        highest = np.where(status == "free", np.minimum(highest, place), highest)
        nothing_above = (status == "free") | (at["note"] == "inadequate").to_numpy(dtype=bool)
        shown = np.where(nothing_above, np.minimum(shown, place), shown)
        adequate[:, place] = at["adequate"].to_numpy(dtype=bool)
    by_study = first["rung"].astype(str).str.startswith("study_").to_numpy(dtype=bool)
    read = by_study & ~first["note"].isin(["not_read", "indeterminate"]).to_numpy(dtype=bool)
    seen = np.where(adequate.all(axis=1), "adequate", "inadequate")
    made["seen"] = np.where(read, seen, "none")
    return made.assign(lowest=lowest, highest=highest, shown_highest=shown).reset_index()
