"""The cases behind a model: one line a row of the cohort, and whether it stands in the model or why not."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from typing import Any

import numpy as np

from analysis.reports.ratio.answer import Answer
from analysis.reports.ratio.rows import KNOWN
from analysis.tables.spreadsheet_text import never_a_formula

FIRST = ("study_number", "operated_on", "unit")
HEADINGS = ("study_number", "operated_on", "side")


def cases_csv(answers: list[Answer]) -> bytes:
    """CSV in UTF-8, outcomes one after the other: model, unit of rows, its key, study number, day, side, exposure with
    its state, outcome with its state, and in_model (yes, or why not)."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(
        ["model", "rows", "key", *HEADINGS, "exposure", "exposure_state", "outcome", "outcome_state", "in_model"]
    )
    for one in answers:
        frame, exposure = one.rows.frame, one.model.exposure.column
        inside = set() if one.adjusted is None else set(one.adjusted.frame["unit_id"])
        for row in frame.to_dict("records"):
            why = "yes" if row["unit_id"] in inside else _why(row)
            value = row["outcome"]
            writer.writerow(
                [
                    never_a_formula(one.model.name),
                    one.rows.unit,
                    row["unit_id"],
                    *(
                        never_a_formula(str(row[name])[:10] if name == "operated_on" else str(row[name]))
                        for name in FIRST
                    ),
                    "" if row["exposure_state"] != "known" else _plain(row[exposure]),
                    row["exposure_state"],
                    "" if np.isnan(value) else f"{value:g}",
                    row["outcome_state"],
                    why,
                ]
            )
    return out.getvalue().encode("utf-8")


def _why(row: Mapping[Any, Any]) -> str:
    if row["outcome_state"] != KNOWN:
        return f"outcome {row['outcome_state']}"
    if row["exposure_state"] != "known":
        return f"exposure {row['exposure_state']}"
    return "a covariate is missing"


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)
