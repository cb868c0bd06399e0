"""The frames behind an answer: operations, graded events, reviews, readmissions, deaths; none after the as-of date."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from analysis.cohort.sql.complications import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.complications.grade_used import Grades, grades_used
from analysis.outcomes.complications.proposals import proposals
from analysis.outcomes.complications.therapy_levels import LocalChoices
from analysis.reports.request.source import Asked

TREATED = {"intent": ("stone_removal",), "conduct": ("not_started", "no_stone_found")}
DATED = {
    "complications": "onset_low",
    "therapies": "given_on",
    "gradings": "graded_on",
    "deaths": "on_low",
    "alive": "alive_on",
    "contacts": "contacted_on",
    "admissions": "admitted_on",
    "attendances": "on_low",
}
"""The column by which rows later than the as-of date are left out; a row without a date stays."""
AT_MOST = {"contacts": "known_to"}
TIGHTEST = (
    "scope_model",
    "scope_fr",
    "scope_single_use",
    "sheath_model",
    "sheath_inner_fr",
    "sheath_outer_fr",
    "sheath_length_cm",
    "sheath_suction",
    "sheath_steerable",
    "sheath_to_scope_ratio",
    "scope_to_sheath_ratio",
    "ratio_state",
    "scope_to_sheath_band",
    "scope_to_sheath_split",
    "ratio_pairs",
)
"""Columns that, in an operation of two sides, are those of the side where the scope sits tightest."""


@dataclass(frozen=True, eq=False)
class Gathered:
    """operations: one row an operation of the cohort, with the cohort's columns of its side of reference, patient_id,
    operated_on, and counted (in the denominator). events: one row a complication of any operation, with its proposal,
    people's grades and the grade used. frames: the others, none of them after as_of. later: by the names of DATED, what
    the frames do not hold because it is dated after as_of. left_out: operations of the cohort outside the denominator.
    """

    operations: pd.DataFrame
    events: pd.DataFrame
    frames: dict[str, pd.DataFrame]
    later: dict[str, pd.DataFrame]
    as_of: pd.Timestamp
    left_out: int
    two_sided: int


def gather(asked: Asked, *, denominator: str, choices: LocalChoices, grades: Grades) -> Gathered:
    """The frames of a cohort, graded.

    denominator: `intended` counts operations that treated at least one side of the cohort to remove a stone; `all`
    counts every operation of the cohort.
    """
    as_of = pd.Timestamp(asked.cohort.as_of)
    every = subject_frames(asked.snapshot, SUBJECT, asked.cohort.as_of)
    frames = until(every, as_of)
    sides = asked.cohort.sides_frame
    operations = operation_frame(sides)
    treated = set(sides.loc[_treated(sides), "operation_id"])
    operations["counted"] = operations["operation_id"].isin(treated) if denominator == "intended" else True
    proposed = proposals(frames["complications"], frames["therapies"], frames["deaths"], frames["operations"], choices)
    whole = frames["complications"].merge(proposed, on="complication_id", validate="one_to_one")
    return Gathered(
        operations=operations,
        events=grades_used(whole, frames["gradings"], grades),
        frames=frames,
        later={name: every[name][every[name][column] > as_of] for name, column in DATED.items()},
        as_of=as_of,
        left_out=int((~operations["counted"]).sum()),
        two_sided=int((sides.groupby("operation_id").size() > 1).sum()),
    )


def until(frames: dict[str, pd.DataFrame], as_of: pd.Timestamp) -> dict[str, pd.DataFrame]:
    """The frames without what is dated after as_of; what reaches further is cut there."""
    made = dict(frames)
    for name, column in DATED.items():
        frame = frames[name]
        made[name] = frame[frame[column].isna() | (frame[column] <= as_of)].reset_index(drop=True)
    for name, column in AT_MOST.items():
        reached = made[name][column]
        made[name] = made[name].assign(**{column: reached.where(reached <= as_of, as_of)})
    later = frames["operations"]
    kept = later[later["operated_on"] <= as_of]
    discharged = kept["discharged_on"].where(kept["discharged_on"] <= as_of)
    made["operations"] = kept.assign(discharged_on=discharged).reset_index(drop=True)
    known = set(made["operations"]["operation_id"])
    for name in ("complications", "also_after"):
        made[name] = made[name][made[name]["operation_id"].isin(known)].reset_index(drop=True)
    return made


def operation_frame(sides: pd.DataFrame) -> pd.DataFrame:
    """One row an operation: the columns of its first side, and of its tightest side what tells how the scope fits."""
    ordered = sides.sort_values(["operation_id", "side_id"])
    first = ordered.drop_duplicates("operation_id").reset_index(drop=True)
    if len(first) == len(ordered):
        return first.copy()
    tight = ordered.sort_values(
        ["operation_id", "scope_to_sheath_ratio", "side_id"], ascending=[True, False, True], na_position="last"
    ).drop_duplicates("operation_id")
    made = first.copy()
    for name in TIGHTEST:
        made[name] = tight[name].array
    return made


def _treated(sides: pd.DataFrame) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    intended = sides["intent"].isin(TREATED["intent"])
    undone = sides["conduct"].isin(TREATED["conduct"])
    return np.asarray(intended & ~undone, dtype=bool)
