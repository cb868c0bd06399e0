"""Courses told by hand, day 0 being 1 January 2024, and the time to an event worked out of them through a snapshot."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pandas as pd

from analysis.cohort.load import load_cohort
from analysis.cohort.sql.follow_up import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.definition import Definition
from analysis.outcomes.follow_up.rules import Choices
from analysis.outcomes.follow_up.time_to import time_to
from analysis.outcomes.inputs import Tables
from tests.cohort.rows import Rows, day

FAR = 2000
"""The as-of day unless a test says otherwise."""


class UnitStory:
    """A registry being told; each course has a patient of its own unless a kidney is given."""

    def __init__(self) -> None:
        self.rows = Rows()

    def course(self, on: int = 0, *, unit: int | None = None, **side: Any) -> int:
        """A course with its index side; the kidney's id."""
        unit = self.rows.unit() if unit is None else unit
        course = self.rows.add("course", renal_unit_id=unit)
        self.rows.side(unit, on, course_id=course, stage_number=0, **side)
        return unit

    def stage(self, unit: int, on: int, *, decided: int = 0) -> None:
        """A planned stage of the kidney's last course, done."""
        course = max(row["id"] for row in self.rows.tables["course"] if row["renal_unit_id"] == unit)
        number = sum(row["course_id"] == course for row in self.rows.tables["planned_stage"]) + 1
        self.rows.add("planned_stage", course_id=course, stage_number=number, decided_on=day(decided))
        self.rows.side(unit, on, course_id=course, stage_number=number)

    def patient(self, unit: int) -> int:
        return int(self.rows.tables["renal_unit"][unit - 1]["patient_id"])

    def contact(self, unit: int, on: int, settles: int | None = None) -> None:
        known = None if settles is None else day(settles)
        self.rows.add("contact", patient_id=self.patient(unit), contacted_on=day(on), stone_events_known_to=known)

    def later(self, unit: int, on: int | dt.date, what: str = "retreatment", **values: Any) -> None:
        self.rows.later(unit, on, what, **values)

    def told_of_no_side(self, unit: int, on: int, what: str) -> None:
        patient = self.patient(unit)
        self.rows.add("later_entry", patient_id=patient, occurred_on=day(on), what=what, renal_unit_id=None)

    def died(self, unit: int, on: int | dt.date, precision: str | None = None) -> None:
        row = self.rows.tables["patient"][self.patient(unit) - 1]
        row["died_on"] = day(on) if isinstance(on, int) else on
        row["died_on_precision"] = precision

    def lost(self, unit: int, on: int) -> None:
        self.rows.tables["renal_unit"][unit - 1]["lost_on"] = day(on)

    def complication(self, unit: int, on: int | None, what: str) -> None:
        operation = next(row["id"] for row in self.rows.tables["operation"] if row["patient_id"] == self.patient(unit))
        self.rows.add(
            "complication",
            operation_id=operation,
            complication_number=len(self.rows.tables["complication"]) + 1,
            renal_unit_id=unit,
            what=what,
            onset_on=None if on is None else day(on),
        )

    def image(self, unit: int, on: int, *sizes: float, modality: str = "ct", **more: Any) -> None:
        """An image of that kidney, thin CT unless said, with fragments of these sizes or none seen."""
        origin = more.pop("origin", None)
        if modality == "ct":
            more.setdefault("slice_mm", 1.0)
        study = self.rows.add(
            "examination", patient_id=self.patient(unit), examined_on=day(on), modality=modality, **more
        )
        reading = self.rows.add(
            "reading", examination_id=study, renal_unit_id=unit, finding="fragments" if sizes else "none_seen"
        )
        for size in sizes:
            self.rows.add(
                "fragment",
                reading_id=reading,
                kind="single",
                diameter_low_mm=size,
                diameter_high_mm=size,
                **({} if origin is None else {"origin": origin}),
            )

    def times(
        self, folder: Path, what: str, *, as_of: int = FAR, stone_free: dict[str, Any] | None = None, **choices: Any
    ) -> pd.DataFrame:
        """One row a course, in the order told."""
        snapshot = self.rows.snapshot_of(folder)
        cohort = load_cohort(snapshot, as_of=day(as_of))
        tables = Tables(**cohort.outcome_frames, as_of=cohort.as_of)
        followed = subject_frames(snapshot, SUBJECT, cohort.as_of)
        options = {"threshold": "0", "unit": "course", "sessions": "planned", **(stone_free or {})}
        return time_to(what, tables, followed, Choices(**choices), Definition.from_options(options))

    def time(self, folder: Path, what: str, **asked: Any) -> dict[str, Any]:
        """The row of the first course."""
        return dict(self.times(folder, what, **asked).iloc[0])
