"""The cases behind every number: one line per group, threshold and unit."""

from __future__ import annotations

import io

import numpy as np
import pandas as pd

from analysis.reports.stone_free.answer import Answer
from analysis.tables.spreadsheet_text import never_a_formula

COLUMNS = (
    "study_number",
    "site",
    "renal_unit",
    "operated_on",
    "day_number",
    "unit",
    "unit_id",
    "side_id",
    "operation_id",
    "group",
    "threshold_mm",
    "comparison",
    "status",
    "rung",
    "picked_study",
    "examined_on",
    "days_after",
    "modality",
    "slice_mm",
    "adequate",
    "failed_inadequate",
    "readings",
    "note",
)
OF_SIDE = {
    "study_number": "study_number",
    "site": "site",
    "unit": "renal_unit",
    "operated_on": "operated_on",
    "day_number": "day_number",
}
# What somebody typed, and a spreadsheet might run.
TYPED = ("study_number", "site", "group")


def case_list(answer: Answer, sides: pd.DataFrame) -> pd.DataFrame:
    """One row per unit and threshold, sorted by group, threshold, status and unit.

    sides: the cohort, with study_number, site, unit, operated_on and day_number of each side_id. group is empty for a
    unit outside the denominator whose group holds nobody inside. picked_study is the examination's id, or the rung
    that decided without one. weight: with the handling weighted, what each unit weighs at its threshold. For every
    row of rates: its n, stone_free, unknown and other counts are the numbers of lines of its group and threshold with
    that status or rung; not so those of weighted and imputed.
    """
    statuses, units = answer.statuses, answer.units
    place = pd.Index(units.unit_id).get_indexer(pd.Index(statuses["unit_id"]))
    names = np.array([*answer.grouping.named(), ""], dtype=object)  # -1 is the last
    code = answer.grouping.codes[place] if len(place) else np.zeros(0, dtype=np.int64)
    order = {one.code: at for at, one in enumerate(units.thresholds)}
    of_side = sides.set_index("side_id").reindex(statuses["side_id"])
    told = {new: of_side[old].to_numpy() for old, new in OF_SIDE.items() if old in of_side.columns}
    made = statuses.assign(
        **told,
        unit=answer.request.definition.unit,
        group=names[code],
        code=np.where(code < 0, len(names), code),
        order=statuses["threshold"].map(order),
        picked_study=statuses["examination_id"].astype("string").fillna(statuses["rung"].astype("string")),
        examined_on=statuses["studied_on"],
        readings=statuses["n_readings"],
    )
    columns = list(COLUMNS)
    if (found := answer.modelled.weighted) is not None:
        by_code = np.stack([found.weights_of(one.code, units) for one in units.thresholds])
        made["weight"] = by_code[made["order"].to_numpy(dtype=np.int64), place]
        columns.append("weight")
    made = made.sort_values(["code", "order", "status", "unit_id"], ignore_index=True)
    return made.reindex(columns=columns)


def cases_csv(cases: pd.DataFrame) -> bytes:
    """The list as CSV; dates as year, month and day."""
    out = io.StringIO()
    shown = cases.copy()
    for name in ("operated_on", "examined_on"):
        shown[name] = pd.to_datetime(shown[name]).dt.strftime("%Y-%m-%d")
    shown["threshold_mm"] = [f"{value:g}" for value in shown["threshold_mm"]]
    for name in ("adequate", "failed_inadequate"):
        shown[name] = np.where(shown[name].astype(bool), "yes", "no")
    for name in TYPED:
        shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue().encode("utf-8")
