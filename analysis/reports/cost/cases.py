"""The courses behind the figures, each with its components, as a list of cases."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd

from analysis.outcomes.cost.components import MISSING, NOT_COSTED
from analysis.reports.cost.gathered import Gathered
from analysis.tables.spreadsheet_text import never_a_formula

OF_SIDE = {"study_number": "study_number", "site": "site", "unit": "renal_unit", "operated_on": "operated_on"}
TYPED = ("study_number", "site", "group", "not_computable", "not_costed")
COSTED_AS = ("costed", "not computable", "horizon not over")


def case_list(held: Gathered) -> pd.DataFrame:
    """One row a course of the denominator, by group and course.

    Columns: study_number, site, renal_unit, operated_on (the index), course_id, side_id, group, cost_state (COSTED_AS),
    cost, one a component (empty where not computable), not_computable and not_costed (what, in words), and
    status_T for each threshold T. The n of a row of the report are the lines of its group that are costed and whose
    status counts.
    """
    courses = held.courses[held.inside].reset_index(drop=True)
    sides = held.asked.cohort.sides_frame.set_index("side_id")[list(OF_SIDE)]
    beside = sides.reindex(courses["index_side"]).rename(columns=OF_SIDE).reset_index(drop=True)
    names = np.array([*held.by.named(), ""], dtype=object)
    due, known = courses["due"].to_numpy(dtype=bool), courses["cost"].notna().to_numpy(dtype=bool)
    made = beside.assign(
        course_id=courses["course_id"],
        side_id=courses["index_side"],
        group=names[held.by.codes[held.inside]],
        cost_state=np.select([~due, ~known], [COSTED_AS[2], COSTED_AS[1]], COSTED_AS[0]),
        cost=courses["cost"],
    )
    made[list(held.request.rules.components)] = courses[list(held.request.rules.components)]
    for name, state in (("not_computable", MISSING), ("not_costed", NOT_COSTED)):
        made[name] = courses["course_id"].map(_in_words(held.charges, state)).fillna("")
    for threshold in held.thresholds:
        made[f"status_{threshold.code}"] = held.status.loc[held.inside, threshold.code].to_numpy(dtype=object)
    return made.sort_values(["group", "course_id"], ignore_index=True)


def cases_csv(cases: pd.DataFrame) -> bytes:
    """The list as CSV; dates as year, month and day, amounts unrounded."""
    shown = cases.copy()
    shown["operated_on"] = pd.to_datetime(shown["operated_on"]).dt.strftime("%Y-%m-%d")
    for name in TYPED:
        shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    out = io.StringIO()
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue().encode("utf-8")


def _in_words(charges: pd.DataFrame, state: str) -> pd.Series:
    """course_id to what was not costed, each thing once, with why."""
    mine = charges[(charges["state"] == state).to_numpy(dtype=bool)]
    words = (mine["what"] + " (" + mine["reason"] + ")").groupby(mine["course_id"])
    return words.agg(lambda each: "; ".join(dict.fromkeys(each)))
