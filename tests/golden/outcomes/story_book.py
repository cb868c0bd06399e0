"""Short words for the sheets of the intake workbook, so that a worked case reads as a story.

Nothing is written that the program is to find out for itself. Days count from the operation, 1 March 2024 unless
said: day 30 is 31 March, day 31 is 1 April, day 90 is 30 May.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path
from typing import Any

from synthetic_cohort.workbook import write_workbook
from tests.command_line import gravelbook

DAY_0 = dt.date(2024, 3, 1)
SITE = {"site": "WC"}
LEFT = {"unit": "left", "unit_number": 1}
Row = dict[str, Any]


def day(number: int, of: dt.date = DAY_0) -> dt.date:
    return of + dt.timedelta(days=number)


class Book:
    """Rows by sheet; `people` are the study numbers by the name of the case."""

    def __init__(self) -> None:
        self.rows: dict[str, list[Row]] = {"site": [{**SITE, "name": "Worked cases", "time_zone": "UTC"}]}
        self.people: dict[str, str] = {}

    def add(self, sheet: str, *parts: Row, **values: Any) -> None:
        """A row; what is None stays blank."""
        row = {name: value for part in (*parts, values) for name, value in part.items() if value is not None}
        self.rows.setdefault(sheet, []).append({**SITE, **row})

    def person(self, name: str, **values: Any) -> Person:
        self.people[name] = f"C{len(self.people) + 1:03d}"
        return Person(self, self.people[name], **values)

    def load(self, location: Path, folder: Path) -> None:
        """Through the real intake; whatever it says besides success is a failure of the test."""
        file = folder / "cases.xlsx"
        write_workbook(self.rows, file, identity=False)
        told = gravelbook("intake", "load", str(file), "--registry", str(location), "--by-whom", "data desk")
        assert (told.status, told.err) == (0, ""), told.out + told.err


class Person:
    """A patient with a left kidney; operations on it begin a course of their own unless they are a stage."""

    def __init__(self, book: Book, number: str, *, anatomy: str | None = None, **values: Any) -> None:
        self.book, self.key = book, {"study_number": number}
        self.counts: Counter[str] = Counter()
        book.add("patient", self.key, **values)
        book.add("renal_unit", self.key, LEFT, anatomy=anatomy)

    def _next(self, what: str) -> int:
        self.counts[what] += 1
        return self.counts[what]

    def operation(
        self,
        on: dt.date = DAY_0,
        *,
        side: Row | None = None,
        stage: int | None = None,
        purpose: str = "stone_removal",
        right: bool = False,
        **values: Any,
    ) -> Operation:
        """One operation on the left side (and, if `right`, on the right one too)."""
        key = {**self.key, "operated_on": on, "day_number": 1}
        self.book.add("operation", key, purpose=purpose, **values)
        sides = [LEFT]
        if right:
            self.book.add("renal_unit", self.key, unit="right", unit_number=1)
            sides.append({"unit": "right", "unit_number": 1})
        for unit in sides:
            course: Row = {}
            if purpose == "stone_removal":
                number = (
                    self._next(f"course {unit['unit']}") if stage is None else self.counts[f"course {unit['unit']}"]
                )
                course = {"course_number": number, "stage_number": stage or 0}
                if stage is None:
                    self.book.add("course", self.key, unit, course_number=number)
            basic = {"intent": purpose, "conduct": "completed", "access_gained": "yes", "technique": "flexible"}
            if purpose != "stent":
                self.book.add("treated_side", key, unit, course, {**basic, **(side or {})})
        return Operation(self, on)

    def planned_stage(self, stage: int, decided_on: dt.date) -> None:
        self.book.add("planned_stage", self.key, LEFT, course_number=1, stage_number=stage, decided_on=decided_on)

    def stone(self, **values: Any) -> None:
        number = self._next("stone")
        self.book.add("stone", self.key, LEFT, course_number=self.counts["course left"], stone_number=number, **values)

    def contact(self, on: dt.date, known_to: dt.date | None = None) -> None:
        self.book.add("contact", self.key, contacted_on=on, complications_known_to=known_to)


class Operation:
    def __init__(self, person: Person, on: dt.date) -> None:
        self.person, self.on, self.book = person, on, person.book
        self.key = {**person.key, "operated_on": on, "day_number": 1}

    def complication(self, what: str, onset: Any = 5, *therapies: Any, **values: Any) -> Complication:
        """onset: a day after this operation, a text such as 2024-04, or None. Organs, death of it and what was there at
        discharge are recorded as none unless said; give None for not recorded."""
        number = self.person._next(f"complication {self.on}")
        known = {"organs_failing": 0, "died_of_it": "no", "present_at_discharge": "no"}
        on = day(onset, self.on) if isinstance(onset, int) else onset
        made = Complication(self, {**self.key, "complication_number": number})
        self.book.add("complication", made.key, {"what": what, "onset_on": on, **known, **values})
        for at, therapy in enumerate(therapies, start=1):
            name, under, more = (*therapy, {}, {})[:3] if isinstance(therapy, tuple) else (therapy, None, {})
            self.book.add("therapy", made.key, therapy_number=at, what=name, anaesthesia=under or None, **more)
        return made

    def observed(self, days_after: int, timing: str | None = None, **values: Any) -> None:
        """A set of observations; its word for before or after by the sign of the day unless given."""
        on = day(days_after, self.on)
        said = timing or ("before" if days_after < 0 else "after")
        number = self.person._next(f"observed {on}")
        self.book.add("observation_set", self.person.key, observed_on=on, set_number=number, timing=said, **values)

    def culture(self, days_after: int, specimen: str, result: str, count_log10: float | None = None) -> None:
        on = day(days_after, self.on)
        key = {"taken_on": on, "specimen": specimen, "culture_number": 1}
        self.book.add("culture", self.person.key, key, timing="after", result=result)
        if result == "positive":
            self.book.add(
                "culture_organism", self.person.key, key, organism="escherichia_coli", count_log10=count_log10
            )

    def use(self, model: str, **values: Any) -> None:
        number = self.person._next(f"use {self.on}")
        key = {**self.key, **LEFT, "use_number": number, "model_code": model}
        self.book.add("equipment_use", key, {"result": "passed", **values})


class Complication:
    def __init__(self, operation: Operation, key: Row) -> None:
        self.operation, self.key = operation, key

    def graded(self, grader: str, grade: str, **values: Any) -> Complication:
        number = self.operation.person._next(f"grading {self.key['operated_on']} {self.key['complication_number']}")
        self.operation.book.add("grading", self.key, grading_number=number, grader=grader, grade=grade, **values)
        return self

    def also_after(self, operation: Operation) -> None:
        other = {"operation.operated_on": operation.on, "operation.day_number": 1}
        self.operation.book.add("complication_also_after", self.key, other)
