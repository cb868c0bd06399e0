"""The section about failures that somebody said have to be reported, and that nobody has."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pandas as pd

from analysis.outcomes.equipment_failure import FAILED, FAILURE
from analysis.reports.equipment.asking import NOT_SAID, Equipment
from analysis.reports.sections.report import Column, Section
from registry.schema.lists_equipment import EquipmentKind, FailureConsequence, FailureMode, Reportable

NATIONAL = (
    "Whether, to whom and by when a hospital has to report is a matter of its national law: this list only repeats "
    "what was entered, and decides, times and sends nothing."
)


def vigilance_section(found: Equipment) -> Section:
    """Failures of any kind of equipment marked reportable or unsure, without a day of report until the as-of date."""
    every = found.every_kind
    as_of = pd.Timestamp(found.asked.cohort.as_of)
    reported = (every["reported_on"] <= as_of).to_numpy(dtype=bool, na_value=False)
    marked = every["reportable"].isin([Reportable.YES, Reportable.UNSURE]).to_numpy(dtype=bool)
    failed = (every["failure"] == FAILED).to_numpy(dtype=bool)
    sides = found.asked.cohort.sides_frame.set_index("side_id")
    rows = [_row(use, sides.loc[use["side_id"]]) for use in every[marked & ~reported].to_dict("records")]
    unsaid = int((failed & every["reportable"].isna().to_numpy(dtype=bool)).sum())
    notes = [NATIONAL]
    if unsaid:
        notes.append(f"Failures of which nobody recorded whether they have to be reported: {unsaid:,}.")
    if rows:
        notes.append("Study numbers are patients' data: this section is not to leave the unit.")
    else:
        notes.insert(0, "No failure marked reportable or unsure is without a day of report.")
    return Section(
        name="vigilance",
        title="Marked reportable or unsure, and not reported: any kind of equipment",
        rows=rows,
        columns=(
            Column("study number", "study_number"),
            Column("site", "site"),
            Column("operation", "operated_on"),
            Column("kind", "kind"),
            Column("model", "model"),
            Column("what failed", "failure_mode"),
            Column("what followed", "failure_consequence"),
            Column("to report", "reportable"),
            Column("kept", "retained"),
        ),
        definition={"failure": FAILURE, "failures_not_said": unsaid},
        notes=notes,
    )


def _row(use: Mapping[Any, Any], side: pd.Series) -> dict[str, Any]:
    def label(codes: Any, value: Any) -> str:
        return NOT_SAID if pd.isna(value) else codes(value).label

    return {
        "study_number": str(side["study_number"]),
        "site": str(side["site"]),
        "operated_on": use["operated_on"].strftime("%Y-%m-%d"),
        "kind": label(EquipmentKind, use["kind"]),
        "model": use["model"],
        "failure_mode": label(FailureMode, use["failure_mode"]),
        "failure_consequence": label(FailureConsequence, use["failure_consequence"]),
        "reportable": label(Reportable, use["reportable"]),
        "retained": NOT_SAID if pd.isna(use["retained"]) else str(use["retained"]),
    }
