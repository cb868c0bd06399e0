"""The frames that scores read, from a snapshot: which stones are a side's, and the burden the cohort has too."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.cohort.sql.scoring import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.burden import side_burden
from analysis.outcomes.scores.all_scores import complexity_scores

from ...cohort.rows import Rows, day
from .unit import unit


def frames_of(rows: Rows, folder: Path) -> dict[str, pd.DataFrame]:
    return subject_frames(rows.snapshot_of(folder), SUBJECT, day(500))


def staged(**second: Any) -> tuple[Rows, int, int]:
    """A percutaneous side with two stones, and its second stage."""
    rows = Rows()
    kidney = rows.unit(anatomy="normal")
    course = rows.add("course", renal_unit_id=kidney)
    sides = [
        rows.side(kidney, on, techniques=("percutaneous",), course_id=course, stage_number=stage)
        for stage, on in enumerate((0, 30))
    ]
    for operation in rows.tables["operation"]:
        operation["spinal_disease"] = "no"
    stones = [rows.add("stone", course_id=course, location=place) for place in ("pelvis", "upper_calyx")]
    if second:
        rows.add("stone_aim", stone_id=stones[0], treated_side_id=sides[1], **second)
    return rows, *sides


def guys(rows: Rows, folder: Path) -> dict[int, Any]:
    return complexity_scores(**frames_of(rows, folder), scores=["guys"]).set_index("side_id").to_dict("index")


def test_a_later_stage_is_scored_by_the_stones_it_aimed_at(tmp_path: Path) -> None:
    rows, first, second = staged(aim="aimed_at")
    found = guys(rows, tmp_path / "frozen")
    assert (found[first]["value"], found[second]["value"]) == (2, 1)


def test_a_later_stage_that_names_no_stone_is_not_given_those_of_its_whole_course(tmp_path: Path) -> None:
    rows, first, second = staged()
    found = guys(rows, tmp_path / "frozen")
    assert (found[first]["value"], found[second]["state"]) == (2, "not computable")
    assert found[second]["missing"] == ("stones aimed at in this stage",)


def test_a_stone_left_on_purpose_is_none_of_the_sides(tmp_path: Path) -> None:
    rows, first, _ = staged()
    rows.add("stone_aim", stone_id=2, treated_side_id=first, aim="left_on_purpose", recorded_before_access="yes")
    assert guys(rows, tmp_path / "frozen")[first]["value"] == 1


def test_burden_is_that_of_the_cohort(tmp_path: Path) -> None:
    rows = unit()
    cohort = rows.cohort(tmp_path / "frozen").sides_frame.set_index("side_id")
    own = side_burden(frames_of(rows, tmp_path / "again")["stones"]).set_index("side_id")
    for name in ("stone_count", "largest_mm", "cumulative_mm", "area_mm2", "volume_mm3", "density_hu"):
        theirs = cohort.loc[own.index, name].to_numpy(dtype=np.float64, na_value=np.nan)
        assert own[name].to_numpy(dtype=np.float64, na_value=np.nan) == pytest.approx(theirs, rel=1e-12, nan_ok=True), (
            name
        )
