"""The pieces opened behind every number, as a list of cases."""

from __future__ import annotations

import io

import pandas as pd

from analysis.reports.equipment.asking import Equipment
from analysis.tables.spreadsheet_text import never_a_formula

OF_SIDE = ("study_number", "site", "unit")
OF_USE = (
    "operated_on",
    "day_number",
    "operation_id",
    "side_id",
    "use_id",
    "use_number",
    "uses",
    "model",
    "kind",
    "reuse",
    "item_id",
    "result",
    "reason",
    "failure",
    "failure_stage",
    "failure_mode",
    "failure_consequence",
    "delay_min",
    "reportable",
    "reported_on",
    "retained",
)
TYPED = ("study_number", "site", "model")


def cases_csv(found: Equipment) -> bytes:
    """One line a piece opened, of the kind asked about, in the order of time; dates as year, month and day."""
    sides = found.asked.cohort.sides_frame.set_index("side_id")[list(OF_SIDE)]
    beside = sides.reindex(found.opened["side_id"]).reset_index(drop=True).rename(columns={"unit": "renal_unit"})
    shown = pd.concat([beside, found.opened[list(OF_USE)].reset_index(drop=True)], axis=1)
    for name in ("operated_on", "reported_on"):
        shown[name] = pd.to_datetime(shown[name]).dt.strftime("%Y-%m-%d")
    for name in TYPED:
        shown[name] = shown[name].astype("string").map(never_a_formula, na_action="ignore")
    out = io.StringIO()
    shown.to_csv(out, index=False, lineterminator="\n")
    return out.getvalue().encode("utf-8")
