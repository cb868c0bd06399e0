"""The worked cases as rows of the intake workbook, and what the command line's list of cases says of their units.

Every patient of every case gets a study number of their own, so that all stand in one registry. Nothing is written
that the program is to find out for itself: what a treatment was to its course, which examination of the day it is
not, and that a kidney was left unread.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from synthetic_cohort.workbook import write_workbook
from tests.golden.stone_free_story import Examination, Operation, Patient, Side, When, WorkedCase

SITE = {"site": "GC"}
# The story's word for a technique; every other technique is called as in the registry.
TECHNIQUES = {"flexible_ureteroscopy": "flexible"}
Row = dict[str, Any]
Rows = dict[str, list[Row]]


class Workbook:
    """Rows by sheet, and where each unit of each case stands in the registry.

    places: (case, what, reference) -> the words by which a person would find it there.
    """

    def __init__(self, cases: Iterable[WorkedCase]) -> None:
        self.rows: Rows = {"site": [{**SITE, "name": "Worked cases", "time_zone": "UTC"}]}
        self.places: dict[tuple[str, str, str], Row] = {}
        people = 0
        for case in cases:
            for patient in case.patients:
                people += 1
                _Writer(self, case.ref, patient, f"W{people:03d}").write()

    def add(self, sheet: str, *parts: Row, **values: Any) -> Row:
        """Append a row; what is None stays blank."""
        row = {name: value for part in (*parts, values) for name, value in part.items() if value is not None}
        self.rows.setdefault(sheet, []).append(row)
        return row

    def save(self, path: Path, *, shuffled: int | None = None) -> None:
        """Write the workbook; `shuffled` is a seed by which every sheet's rows are put in another order."""
        rows = {sheet: list(rows) for sheet, rows in self.rows.items()}
        if shuffled is not None:
            for listed in rows.values():
                random.Random(shuffled).shuffle(listed)
        write_workbook(rows, path, identity=False)


class _Writer:
    """One patient's rows."""

    def __init__(self, book: Workbook, case: str, patient: Patient, study_number: str) -> None:
        self.book, self.case, self.patient = book, case, patient
        self.key = {**SITE, "study_number": study_number}
        self.numbers: Counter[tuple[Any, ...]] = Counter()
        self.courses: dict[str, Row] = {}
        self.stones: dict[str, Row] = {}

    def write(self) -> None:
        patient = self.patient
        self.book.add("patient", self.key, died_on=patient.died and typed(patient.died))
        self._place("patient", patient.ref, self.key)
        lost = dict(patient.lost)
        for kidney in sorted(self._kidneys()):
            when = lost.get(kidney)
            self.book.add("renal_unit", self.key, unit_of(kidney), lost_on=when and typed(when))
        for operation in patient.operations:
            self._courses_of(operation)
        for stone in patient.stones:
            course = self.courses[stone.course]
            self.stones[stone.ref] = {**course, "stone_number": self._next("stone", stone.course)}
            lucent = "lucent" if stone.radiolucent else None
            self.book.add("stone", self.key, self.stones[stone.ref], radio_opacity=lucent)
            self._place("stone", stone.ref, {**self.key, **self.stones[stone.ref]})
        for operation in patient.operations:
            self._operation(operation)
        for other in patient.elsewhere:
            on = typed(other.when)
            self.book.add(
                "later_entry",
                self.key,
                unit_of(other.kidney),
                occurred_on=on,
                entry_number=self._next("entry", on),
                what="retreatment",
                place="elsewhere",
            )
        for examination in patient.examinations:
            self._examination(examination)

    def _kidneys(self) -> set[str]:
        patient = self.patient
        sides = {side.kidney for operation in patient.operations for side in operation.sides}
        read = {reading.kidney for examination in patient.examinations for reading in examination.readings}
        return sides | read | {other.kidney for other in patient.elsewhere} | {kidney for kidney, _ in patient.lost}

    def _courses_of(self, operation: Operation) -> None:
        for side in operation.sides:
            if side.stage == 0 and side.course is not None:
                number = self._next("course", side.kidney)
                self.courses[side.course] = {**unit_of(side.kidney), "course_number": number}
                self.book.add("course", self.key, self.courses[side.course])
                self._place("course", side.course, self._side_key(operation, side))

    def _operation(self, operation: Operation) -> None:
        key = {**self.key, "operated_on": operation.on, "day_number": operation.number}
        self.book.add("operation", key, purpose=operation.sides[0].intent)
        self._place("operation", operation.ref, key)
        for side in operation.sides:
            self._side(operation, side)

    def _side_key(self, operation: Operation, side: Side) -> Row:
        return {**self.key, "operated_on": operation.on, "day_number": operation.number, **unit_of(side.kidney)}

    def _side(self, operation: Operation, side: Side) -> None:
        key = self._side_key(operation, side)
        self._place("side", side.ref, key)
        course = self.courses[side.course] if side.stage is not None and side.course is not None else {}
        self.book.add(
            "treated_side",
            key,
            course,
            stage_number=side.stage,
            intent=side.intent,
            conduct=side.conduct,
            access_gained="no" if side.access_failed else "yes",
            technique=TECHNIQUES.get(side.technique, side.technique),
        )
        if side.stage:
            self.book.add("planned_stage", self.key, course, stage_number=side.stage, decided_on=side.decided_on)
        for aim, stones, before in (
            ("aimed_at", side.aimed, None),
            ("left_on_purpose", side.left, "yes"),
            ("left_on_purpose", side.left_late, "no"),
        ):
            for stone in stones:
                self.book.add("stone_aim", key, self.stones[stone], aim=aim, recorded_before_access=before)

    def _examination(self, examination: Examination) -> None:
        on, modality = typed(examination.when), examination.modality
        number = self._next("examination", on, modality)
        key = {**self.key, "examined_on": on, "modality": modality, "examination_number": number}
        self.book.add(
            "examination",
            key,
            slice_mm=examination.slice_mm,
            after_operation=yes_or_no(examination.after_operation),
        )
        self._place("examination", examination.ref, {"on": examination.when.on, "modality": modality})
        for reading in examination.readings:
            number = self._next("reading", on, modality, key["examination_number"], reading.kidney)
            named = {**key, **unit_of(reading.kidney), "reading_number": number}
            seen = yes_or_no(reading.every_calyx_seen)
            self.book.add("reading", named, finding=reading.finding, every_calyx_seen=seen)
            for at, fragment in enumerate(reading.fragments, start=1):
                of = self.stones.get(fragment.of)
                self.book.add(
                    "fragment",
                    named,
                    of or {},
                    fragment_number=at,
                    diameter_low_mm=fragment.low_mm,
                    diameter_high_mm=fragment.high_mm,
                    larger_than_low="yes" if fragment.above else None,
                    kind=fragment.kind,
                    origin="stone" if of else fragment.of,
                )

    def _next(self, *of: Any) -> int:
        self.numbers[of] += 1
        return self.numbers[of]

    def _place(self, what: str, ref: str, place: Row) -> None:
        self.book.places[self.case, what, ref] = place


def unit_of(kidney: str) -> Row:
    return {"unit": kidney, "unit_number": 1}


def typed(when: When) -> Any:
    """A date as a person types it, 2024-04 when the month alone is known."""
    return when.on if when.precision == "day" else when.on.isoformat()[: {"month": 7, "year": 4}[when.precision]]


def yes_or_no(said: bool | None) -> str | None:
    return None if said is None else "yes" if said else "no"


def lines_of(
    cases: Sequence[dict[str, str]], unit: str, place: Row, stone_id: int | None = None
) -> list[dict[str, str]]:
    """The lines of a list of cases that are of one unit, by study number, kidney and date, in the list's order.

    stone_id: the stone's key in the registry; two stones of one course have the rest in common.
    """
    wanted: dict[str, str] = {"study_number": place["study_number"]}
    if unit in ("side", "operation", "course"):
        wanted |= {"operated_on": place["operated_on"].isoformat(), "day_number": str(place["day_number"])}
    if unit in ("side", "course", "stone"):
        wanted["renal_unit"] = place["unit"]
    if unit == "stone":
        wanted["unit_id"] = str(stone_id)
    return [case for case in cases if all(case[name] == value for name, value in wanted.items())]


def day_of(place: Row) -> str:
    on: dt.date = place["on"]
    return on.isoformat()
