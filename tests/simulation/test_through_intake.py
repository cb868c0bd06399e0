"""One cohort by two roads: straight into the outcome rules, and as a workbook through the real intake."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.cohort.load import load_cohort
from analysis.cohort.snapshot import open_snapshot
from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status
from registry.intake.load import load_file
from registry.store.registry import open_registry
from synthetic_cohort.analysis_inputs import analysis_inputs
from synthetic_cohort.frames import Cohort, cohort
from synthetic_cohort.outcome import THRESHOLDS
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.story import Row, Rows
from synthetic_cohort.workbook import write_workbook

KEY = ["study_number", "operated_on", "renal_unit", "threshold"]
FARED = ["status", "rung", "studied_on", "days_after", "modality", "slice_mm", "adequate", "failed_inadequate"]
FARED += ["n_readings", "note"]
# More of what is rare: retreatments, deaths, both sides at once, drainage first, sides not started or abandoned.
BUSY = Parameters(
    share_scanned=0.6,
    share_retreated=0.9,
    share_died=0.08,
    share_bilateral=0.2,
    share_drainage=0.06,
    share_not_started=0.03,
    share_abandoned=0.06,
)
OPERATIONS = 250
SEED = 11


def fared(statuses: pd.DataFrame, sides: pd.DataFrame) -> pd.DataFrame:
    """How each side fared at each threshold, by what a person would know it by.

    sides: study_number, operated_on and renal_unit of each side_id.
    """
    told = statuses.merge(sides, on="side_id", validate="many_to_one")
    told = told.astype({"study_number": object, "renal_unit": object, "operated_on": "datetime64[s]"})
    return told.set_index(KEY, verify_integrity=True)[FARED].sort_index()


def by_study_number(drawn: Cohort, sides: pd.DataFrame) -> pd.DataFrame:
    """What a person would know the cohort's sides by; the first patient of the cohort is S00001."""
    return pd.DataFrame(
        {
            "side_id": sides["side_id"],
            "study_number": [f"S{patient + 1:05d}" for patient in sides["patient_id"]],
            "operated_on": sides["operated_on"],
            "renal_unit": np.where(drawn.sides["left"], "left", "right"),
        }
    )


def without_planning_between(rows: Rows) -> Rows:
    """The rows without the planning scans of second and later courses: the cohort itself has no such scan.

    They lie in the window of the course before, which they would decide.
    """
    first: dict[str, date] = {}
    for row in rows["operation"]:
        first[row["study_number"]] = min(row["operated_on"], first.get(row["study_number"], date.max))
    between = {
        _examined(row)
        for row in rows["examination"]
        if row["purpose"] == "diagnosis" and row["examined_on"] > first[row["study_number"]]
    }
    kept = {
        name: [row for row in rows[name] if _examined(row) not in between]
        for name in ("examination", "reading", "fragment")
    }
    return rows | kept


def _examined(row: Row) -> tuple[Any, ...]:
    return tuple(row[name] for name in ("study_number", "examined_on", "modality", "examination_number"))


def with_unread(inputs: dict[str, Any]) -> dict[str, Any]:
    """The inputs, with each examination standing, unread, for the treated kidneys of its patient that nobody read.

    A registry cannot know that a scan left a kidney out, but a second look is of the kidneys it names alone.
    """
    examinations = inputs["examinations"]
    visits = examinations.drop_duplicates("examination_id").drop(columns=["renal_unit_id", "reading_id", "finding"])
    visits = visits[visits["modality"] != "second_look"].assign(every_calyx_seen=None)
    treated = inputs["sides"][["patient_id", "renal_unit_id"]].drop_duplicates()
    possible = visits.merge(treated, on="patient_id").assign(finding=None)
    pairs = ["examination_id", "renal_unit_id"]
    read = pd.MultiIndex.from_frame(examinations[pairs])
    unread = possible[~pd.MultiIndex.from_frame(possible[pairs]).isin(read)]
    unread = unread.assign(reading_id=pd.array([pd.NA] * len(unread), dtype="Int64"))
    whole = pd.concat([examinations.astype({"reading_id": "Int64"}), unread[examinations.columns]], ignore_index=True)
    return inputs | {"examinations": whole}


@pytest.fixture(scope="module")
def drawn() -> Cohort:
    return cohort(BUSY, OPERATIONS, SEED)


DEFINITIONS = [
    Definition.from_options(threshold=",".join(THRESHOLDS)),
    Definition.from_options(threshold=",".join(THRESHOLDS), pick="last", imaging="ct", window="7:120"),
    *(Definition.from_options(unit="course", sessions=sessions) for sessions in ("single", "planned", "auxiliary")),
]


def test_a_cohort_fares_the_same_through_workbook_intake_and_snapshot(
    drawn: Cohort, sqlite_location: str, tmp_path: Path
) -> None:
    straight = Tables(**with_unread(analysis_inputs(drawn)))
    workbook = tmp_path / "cohort.xlsx"
    write_workbook(without_planning_between(records(drawn)), workbook)
    with open_registry(sqlite_location) as registry:
        assert load_file(registry, workbook, by="tester").errors == 0
        # The workbook has entries after discharge, some later than anything of the cohort's own.
        loaded = load_cohort(open_snapshot(registry), as_of=straight.as_of)
    entered = Tables(**loaded.outcome_frames, as_of=loaded.as_of)
    known_by = loaded.sides_frame[["side_id", "study_number", "operated_on", "unit"]]
    known_by = known_by.rename(columns={"unit": "renal_unit"})

    rungs = set()
    for definition in DEFINITIONS:
        ours = fared(stone_free_status(straight, definition), by_study_number(drawn, straight.sides))
        theirs = fared(stone_free_status(entered, definition), known_by)
        # Second looks are theatre visits of their own in the workbook: diagnostic, so outside the denominator.
        only_entered = theirs.drop(ours.index)
        assert set(only_entered["rung"]) <= {"out_intent"}
        assert len(only_entered) < len(ours) / 10
        pd.testing.assert_frame_equal(theirs.loc[ours.index], ours, check_dtype=False)
        rungs |= set(ours["rung"])
    assert {"out_intent", "out_not_started", "out_no_stone", "not_due", "died", "abandoned", "no_study"} <= rungs
    assert {"study_free", "study_failed", "study_unknown", "retreated_planned", "retreated_unplanned"} <= rungs
