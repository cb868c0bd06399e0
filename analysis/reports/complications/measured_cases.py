"""What was measured or graded in each operation, beside its line in the list of cases."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from analysis.cohort.sql import in_operation, observations
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.in_operation.standing import standings
from analysis.outcomes.kidney.judged import judge_kidney
from analysis.reports.complications.clinical_options import kidney_rules
from analysis.reports.complications.infection_section import infection_cases
from analysis.reports.complications.operation_units import operation_units

if TYPE_CHECKING:
    from analysis.reports.complications.answering import Answer

OF_LINE = ["study_number", "operated_on", "patient_id"]


def measured_cases(answer: Answer) -> pd.DataFrame:
    """One row an operation: operation_id and, of each section asked for, its columns, named after the section.

    infection: as `infection_cases`. kidney: as `judge_kidney`, creatinine in umol/L, eGFR in mL/min/1.73 m2.
    in_operation: of each scale the grade of every side, or how it stands, in words.
    """
    made = pd.DataFrame({"operation_id": pd.Series(dtype="int64")})
    parts = {"infection": _infection, "kidney": _kidney, "in-operation": _in_operation}
    for section, part in parts.items():
        if section in answer.request.show:
            found = part(answer).set_index("operation_id").drop(columns=OF_LINE, errors="ignore")
            named = found.add_prefix(f"{section.replace('-', '_')}_").reset_index()
            made = made.merge(named, on="operation_id", how="outer", validate="one_to_one")
    return made


def _infection(answer: Answer) -> pd.DataFrame:
    return infection_cases(answer.asked, answer.request.settings).reset_index(drop=True)


def _kidney(answer: Answer) -> pd.DataFrame:
    asked, settings = answer.asked, answer.request.settings
    units = operation_units(asked.cohort.sides_frame, (), settings)
    frames = subject_frames(asked.snapshot, observations.SUBJECT, asked.cohort.as_of)
    made = judge_kidney(
        frames, kidney_rules(settings), as_of=asked.cohort.as_of, operation_ids=pd.Index(units.operation_id)
    )
    return made.rename_axis("operation_id").reset_index()


def _in_operation(answer: Answer) -> pd.DataFrame:
    asked = answer.asked
    sides = asked.cohort.sides_frame
    reasons = subject_frames(asked.snapshot, in_operation.SUBJECT, asked.cohort.as_of)["reasons"]
    told = {
        name: sides["unit"].astype("string") + " " + stand["grade"].fillna(stand["state"])
        for name, stand in standings(sides, reasons).items()
    }
    beside = pd.DataFrame({"operation_id": sides["operation_id"], **told})
    return beside.groupby("operation_id", sort=True).agg("; ".join).reset_index()
