"""The worked cases, put straight into tables."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.outcomes.definition import Definition
from analysis.outcomes.input_columns import COLUMNS
from analysis.outcomes.inputs import Tables
from analysis.outcomes.ladder import RUNGS
from analysis.outcomes.status import stone_free_status
from tests.golden.stone_free_cases import CASES
from tests.golden.stone_free_story import Examination, Operation, Patient, Side, When, WorkedCase

FIVE = "0,lt2,2,lt4,4"
LETTERS = {"free": "S", "failed": "F", "unknown": "U", "not_due": "N", "died": "D", "out": "O"}
KIDNEYS = ("left", "right")


class Translation:
    """One worked case as tables; `ids` remembers which number each reference became."""

    def __init__(self, case: WorkedCase) -> None:
        self.ids: dict[tuple[str, str], int] = {}
        self.rows: dict[str, list[dict[str, Any]]] = {name: [] for name in COLUMNS}
        for patient in case.patients:
            self._patient(patient)
        frames = {name: pd.DataFrame(rows, columns=list(COLUMNS[name])) for name, rows in self.rows.items()}
        for name, columns in COLUMNS.items():
            for column, kind in columns.items():
                dtype = {"id": "Int64", "number": "float64", "date": "datetime64[s]", "flag": "boolean"}.get(kind.holds)
                if dtype is not None:
                    frames[name][column] = frames[name][column].astype(dtype)
                if kind.holds == "id" and not kind.nullable:
                    frames[name][column] = frames[name][column].astype("int64")
        self.tables = Tables(**frames, as_of=case.as_of)

    def id(self, what: str, ref: str | None) -> int | None:
        return None if ref is None else self.ids.setdefault((what, ref), 10 + len(self.ids))

    def _patient(self, patient: Patient) -> None:
        for stone in patient.stones:
            self.rows["stones"].append(
                {
                    "stone_id": self.id("stone", stone.ref),
                    "course_id": self.id("course", stone.course),
                    "renal_unit_id": self._unit(patient, stone.kidney),
                    "radiolucent": stone.radiolucent,
                }
            )
        for operation in patient.operations:
            for side in operation.sides:
                self._side(patient, operation, side)
        for other in patient.elsewhere:
            self._treatment(patient, other.kidney, other.when, other.kind, other.course)
        for examination in patient.examinations:
            self._examination(patient, examination)
        for kidney, when in patient.lost:
            self.rows["losses"].append({"renal_unit_id": self._unit(patient, kidney), **_span(when)})
        if patient.died is not None:
            self.rows["deaths"].append({"patient_id": self.id("patient", patient.ref), **_span(patient.died)})

    def _unit(self, patient: Patient, kidney: str) -> int | None:
        return self.id("renal unit", f"{patient.ref} {kidney}")

    def _side(self, patient: Patient, operation: Operation, side: Side) -> None:
        side_id = self.id("side", side.ref)
        self.rows["sides"].append(
            {
                "side_id": side_id,
                "operation_id": self.id("operation", operation.ref),
                "patient_id": self.id("patient", patient.ref),
                "renal_unit_id": self._unit(patient, side.kidney),
                "course_id": None if side.stage is None else self.id("course", side.course),
                "stage": side.stage,
                "operated_on": operation.on,
                "day_number": operation.number,
                "intent": side.intent,
                "conduct": side.conduct,
                "access_failed": side.access_failed,
                "in_cohort": True,
            }
        )
        for word, stones in (("aimed_at", side.aimed), ("left_on_purpose", side.left + side.left_late)):
            for stone in stones:
                row = {"stone_id": self.id("stone", stone), "side_id": side_id, "aimed": word}
                self.rows["aims"].append({**row, "left_recorded_before_access": stone in side.left})
        if side.intent == "stone_removal" and side.conduct in ("completed", "abandoned"):
            kind = side.kind or ("index" if side.stage == 0 else "planned")
            self._treatment(patient, side.kidney, When(operation.on), kind, side.course, side_id, operation.number)

    def _treatment(
        self,
        patient: Patient,
        kidney: str,
        when: When,
        kind: str,
        course: str | None,
        side_id: int | None = None,
        number: int | None = None,
    ) -> None:
        self.rows["treatments"].append(
            {
                "treatment_id": 1 + len(self.rows["treatments"]),
                "patient_id": self.id("patient", patient.ref),
                "renal_unit_id": self._unit(patient, kidney),
                "side_id": side_id,
                **_span(when),
                "day_number": number,
                "kind": kind,
                "course_id": self.id("course", course),
            }
        )

    def _examination(self, patient: Patient, examination: Examination) -> None:
        row = {
            "examination_id": self.id("examination", examination.ref),
            "patient_id": self.id("patient", patient.ref),
            **_span(examination.when),
            "after_operation": examination.after_operation,
            "modality": examination.modality,
            "slice_mm": examination.slice_mm,
        }
        for reading in examination.readings:
            reading_id = 1 + len(self.rows["examinations"])
            about = {"renal_unit_id": self._unit(patient, reading.kidney), "finding": reading.finding}
            self.rows["examinations"].append(
                {**row, **about, "reading_id": reading_id, "every_calyx_seen": reading.every_calyx_seen}
            )
            for fragment in reading.fragments:
                plain = fragment.of in ("new", "no_stone", "not_said")
                self.rows["fragments"].append(
                    {
                        "reading_id": reading_id,
                        "low_mm": fragment.low_mm,
                        "high_mm": fragment.high_mm,
                        "above": fragment.above,
                        "kind": fragment.kind,
                        "source": fragment.of if plain else "stone",
                        "stone_id": None if plain else self.id("stone", fragment.of),
                    }
                )
        for kidney in _treated_and_unread(patient, examination):
            unread = {"renal_unit_id": self._unit(patient, kidney), "reading_id": None, "finding": None}
            self.rows["examinations"].append({**row, **unread, "every_calyx_seen": None})


def _treated_and_unread(patient: Patient, examination: Examination) -> list[str]:
    """Kidneys of which an examination may have said something that nobody recorded: those treated and not read. An
    endoscope in one kidney says nothing of the other."""
    read = {reading.kidney for reading in examination.readings}
    if examination.modality == "second_look" and read:
        return []
    treated = {side.kidney for operation in patient.operations for side in operation.sides}
    return [kidney for kidney in KIDNEYS if kidney in treated - read]


def _span(when: When) -> dict[str, Any]:
    return {"on_low": when.low, "on_high": when.high}


@pytest.mark.parametrize("case", CASES, ids=[case.ref for case in CASES])
def test_worked_case(case: WorkedCase):
    made = Translation(case)
    options = {name.replace("-", "_"): value for name, value in case.options.items()}
    if "target" in options:
        options["target"] = int(options["target"])  # type: ignore[assignment]
    definition = Definition.from_options(options, threshold=FIVE)
    found = stone_free_status(made.tables, definition)
    for expected in case.expected:
        rows = found[found["unit_id"] == made.id(definition.unit, expected.of)]
        statuses = "".join(rows["status"].map(LETTERS))
        rungs = {rung.split("_")[0] if rung.startswith("study_") else rung for rung in rows["rung"]}
        assert statuses == expected.statuses, case.why
        assert rungs == {expected.rung}, case.why
        if expected.picked is not None:
            assert set(rows["examination_id"]) == {made.id("examination", expected.picked)}, case.why


def test_every_reference_is_used_once():
    assert len({case.ref for case in CASES}) == len(CASES)


def test_the_cases_reach_every_rung():
    reached = {expected.rung for case in CASES for expected in case.expected}
    assert reached == {"study" if rung.startswith("study_") else rung for rung in RUNGS}


def test_the_cases_reach_every_unit_and_every_choice_of_sessions():
    assert {case.options.get("unit", "side") for case in CASES} == {"side", "stone", "operation", "course", "patient"}
    assert {case.options.get("sessions", "single") for case in CASES} == {"single", "planned", "auxiliary"}
