"""The published rule, read from the loaded workbook, finds the grades that the generator meant."""

from __future__ import annotations

from collections import Counter
from datetime import date

import numpy as np

from analysis.cohort.snapshot import open_snapshot
from analysis.cohort.sql.complications import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.complications.proposals import proposals
from registry.intake.load import load_file
from registry.store.registry import open_registry
from synthetic_cohort.complication_kinds import GRADES, NONE
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.workbook import write_workbook


def test_the_rule_finds_every_grade_that_was_meant(sqlite_location, tmp_path):
    drawn = cohort(Parameters(), 2500, 31)
    rows = records(drawn)
    write_workbook(rows, tmp_path / "unit.xlsx")
    with open_registry(sqlite_location) as registry:
        assert load_file(registry, tmp_path / "unit.xlsx", by="tester").errors == 0
        frames = subject_frames(open_snapshot(registry), SUBJECT, date(2025, 6, 1))
    found = proposals(frames["complications"], frames["therapies"], frames["deaths"], frames["operations"])
    assert not found["missing"].map(len).any()
    assert not found["contradictions"].map(len).any()
    grades = drawn.complications["grade"][drawn.complications["known"]]
    meant = Counter(np.array(GRADES)[grades[grades > NONE]].tolist())
    assert set(meant) == set(GRADES[1:])
    assert Counter(found["proposal"].dropna()) == meant
    # Prolonged prophylaxis, and planned stages that somebody wrote down, are none.
    planned = sum("treating_operation.operated_on" in row for row in rows["therapy"])
    assert (found["state"] == "no complication").sum() == (grades == NONE).sum() + planned
