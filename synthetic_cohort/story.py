"""Writes the rows of one invented patient, sheet by sheet, and keeps their keys and running numbers.

A row is what a person would type: heading -> value, in the units of the sheet, dates as dates, blanks left out.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from typing import Any

SITE = "LB"
Row = dict[str, Any]
Rows = dict[str, list[Row]]


def add(rows: Rows, table: str, *parts: Row, **values: Any) -> Row:
    """Append a row made of its key parts and values, blanks left out, and give it back."""
    row = {name: value for part in parts for name, value in part.items()}
    row.update({name: value for name, value in values.items() if value is not None})
    rows.setdefault(table, []).append(row)
    return row


@dataclass
class Story:
    """One patient."""

    rows: Rows
    study_number: str
    numbers: Counter[tuple[Any, ...]] = field(default_factory=Counter)
    key: Row = field(init=False)
    patient: Row = field(init=False)

    def __post_init__(self) -> None:
        self.key = {"site": SITE, "study_number": self.study_number}

    def next(self, *of: Any) -> int:
        """The next running number of something."""
        self.numbers[of] += 1
        return self.numbers[of]

    def person(self, **values: Any) -> Row:
        """The patient's own row."""
        self.patient = add(self.rows, "patient", self.key, **values)
        return self.patient

    def unit(self, unit: str, number: int = 1, **values: Any) -> UnitStory:
        """A renal unit."""
        key = {**self.key, "unit": unit, "unit_number": number}
        row = add(self.rows, "renal_unit", key, **({"anatomy": "normal", "prior_stone_surgery": "no"} | values))
        return UnitStory(self, key, row)

    def admission(self, on: date, **values: Any) -> Row:
        """A stay; its key columns are given back. A second operation of the day shares the stay."""
        key = {"admitted_on": on, "admission_number": 1}
        if not self.numbers["admission", on]:
            self.next("admission", on)
            add(self.rows, "admission", self.key, key, **values)
        return key

    def operation(self, on: date, **values: Any) -> OperationStory:
        """An operation; values are the sheet's columns, ``admission`` the key of its stay."""
        number = self.next("operation", on)
        key = {**self.key, "operated_on": on, "day_number": number}
        row = add(self.rows, "operation", key, values.pop("admission", {}), **values)
        return OperationStory(self, key, row)

    def examination(self, on: Any, modality: str, **values: Any) -> ExaminationStory:
        """An examination; ``on`` may be a month such as ``2023-04``."""
        key = {**self.key, "examined_on": on, "modality": modality}
        key["examination_number"] = self.next("examination", on, modality)
        row = add(self.rows, "examination", key, **({"purpose": "follow_up", "place": "here"} | values))
        return ExaminationStory(self, key, row)

    def culture(self, on: date, specimen: str, operation: OperationStory | None = None, **values: Any) -> Row:
        """A culture; its key columns are given back. ``organisms``: code to log10 of the count."""
        key = {**self.key, "taken_on": on, "specimen": specimen}
        key["culture_number"] = self.next("culture", on, specimen)
        organisms: dict[str, float] = values.pop("organisms", {})
        add(self.rows, "culture", key, operation.link if operation else {}, **values)
        for organism, count in organisms.items():
            resistant = "yes" if organism == "pseudomonas" and count > 5 else "no"
            add(self.rows, "culture_organism", key, organism=organism, count_log10=count, multiresistant=resistant)
        return key

    def observations(self, on: date, operation: OperationStory | None = None, **values: Any) -> Row:
        """A set of observations."""
        key = {**self.key, "observed_on": on, "set_number": self.next("observations", on)}
        return add(self.rows, "observation_set", key, operation.link if operation else {}, **values)

    def contact(self, on: date, **values: Any) -> Row:
        """A contact."""
        known = {"method": "record_review", "complications_known_to": on, "stone_events_known_to": on}
        number = self.next("contact", on)
        return add(self.rows, "contact", self.key, contacted_on=on, contact_number=number, **(known | values))

    def later(self, on: Any, what: str, unit: UnitStory | None = None, **values: Any) -> Row:
        """Something that happened after discharge; ``on`` may be a month or a year."""
        number = self.next("later", on)
        where = unit.link if unit else {}
        return add(self.rows, "later_entry", self.key, where, occurred_on=on, entry_number=number, what=what, **values)


@dataclass
class UnitStory:
    """One renal unit of the patient."""

    story: Story
    key: Row
    row: Row
    open_drain: Row | None = None

    @property
    def link(self) -> Row:
        """The columns by which another sheet names it."""
        return {"unit": self.key["unit"], "unit_number": self.key["unit_number"]}

    def course(self, number: int = 1) -> Row:
        """A course; its key columns are given back."""
        key = {**self.key, "course_number": number}
        if not self.story.numbers["course", *self.link.values(), number]:
            self.story.next("course", *self.link.values(), number)
            add(self.story.rows, "course", key)
        return key

    def stone(self, course: int = 1, **values: Any) -> Row:
        """A stone of a course; its key columns are given back."""
        key = {**self.key, "course_number": course}
        key["stone_number"] = self.story.next("stone", *self.link.values(), course)
        add(self.story.rows, "stone", key, **values)
        return key

    def planned_stage(self, course: int, decided_on: date, **values: Any) -> Row:
        """A stage decided on beforehand."""
        key = {**self.key, "course_number": course}
        number = self.story.next("stage", *self.link.values(), course)
        return add(self.story.rows, "planned_stage", key, stage_number=number, decided_on=decided_on, **values)

    def drain(self, on: Any, kind: str, operation: OperationStory | None = None, **values: Any) -> Row:
        """A stent or nephrostomy."""
        number = self.story.next("drain", *self.link.values(), on)
        size = {"stent": 6, "nephrostomy": 10, "ureteric_catheter": 5}[kind]
        given = {"size_tenths_fr": size, "placed_where": "here"} | values
        link = operation.link if operation else {}
        return add(self.story.rows, "drain", self.key, link, placed_on=on, drain_number=number, kind=kind, **given)

    def analysis(self, components: dict[str, float], **values: Any) -> Row:
        """A stone analysis with its components in percent."""
        key = {**self.key, "analysis_number": self.story.next("analysis", *self.link.values())}
        row = add(self.story.rows, "stone_analysis", key, **({"method": "infrared", "state": "result"} | values))
        for component, share in components.items():
            add(self.story.rows, "analysis_component", key, component=component, share_percent=share)
        return row


@dataclass
class OperationStory:
    """One operation."""

    story: Story
    key: Row
    row: Row

    @property
    def link(self) -> Row:
        """The columns by which another sheet names it."""
        return {"operated_on": self.key["operated_on"], "day_number": self.key["day_number"]}

    def person(self, operator: str, role: str = "first", **values: Any) -> Row:
        """A person who took part."""
        number = self.story.next("person", *self.link.values())
        given = {"part": "whole", "grade": "consultant", "made_access": "no"} | values
        return add(
            self.story.rows, "operation_operator", self.key, person_number=number, operator=operator, role=role, **given
        )

    def side(self, unit: UnitStory, **values: Any) -> SideStory:
        """A treated side; a course is named by ``course_number`` and begun when it is new."""
        if values.get("course_number"):
            unit.course(values["course_number"])
        key = {**self.key, **unit.link}
        row = add(self.story.rows, "treated_side", key, **values)
        return SideStory(self.story, unit, key, row)

    def complication(self, what: str, onset: Any, unit: UnitStory | None = None, **values: Any) -> ComplicationStory:
        """A complication whose main operation this is; ``onset`` may be a month."""
        key = {**self.key, "complication_number": self.story.next("complication", *self.link.values())}
        links = {**(unit.link if unit else {}), **values.pop("readmission", {})}
        given = {"equipment_related": "no", "present_at_discharge": "no", "died_of_it": "no", "place": "here"} | values
        add(self.story.rows, "complication", key, links, what=what, onset_on=onset, **given)
        return ComplicationStory(self.story, key)


@dataclass
class SideStory:
    """One treated side."""

    story: Story
    unit: UnitStory
    key: Row
    row: Row
    uses: int = 0

    def use(self, model: str, result: str = "passed", **values: Any) -> int:
        """One attempt to use a piece of equipment; its order number is given back."""
        self.uses += 1
        given = {"first_intended": "yes", "result": result} | values
        add(self.story.rows, "equipment_use", self.key, use_number=self.uses, model_code=model, **given)
        return self.uses

    def aim(self, stone: Row, aim: str = "aimed_at", result: str | None = "cleared", **values: Any) -> Row:
        """What was meant to happen to a stone."""
        named = {name: stone[name] for name in ("course_number", "stone_number")}
        given = {"recorded_before_access": "yes"} | values
        return add(self.story.rows, "stone_aim", self.key, named, aim=aim, result=result, **given)

    def numbered(self, table: str, number: str, **values: Any) -> Row:
        """A row of a list that belongs to the side: settings, tracts, shock-wave sessions, events."""
        count = {
            number: self.story.next(table, *(self.key[n] for n in ("operated_on", "day_number", "unit", "unit_number")))
        }
        return add(self.story.rows, table, self.key, count, **values)


@dataclass
class ExaminationStory:
    """One examination."""

    story: Story
    key: Row
    row: Row

    def reading(self, unit: UnitStory, finding: str | None, **values: Any) -> ReadingStory:
        """What one reader says of a renal unit."""
        key = {**self.key, **unit.link}
        key["reading_number"] = self.story.next("reading", *key.values())
        given = {"reader": "R1", "blinded": "yes", "hydronephrosis": "none"} | values
        add(self.story.rows, "reading", key, finding=finding, **given)
        return ReadingStory(self.story, key)


@dataclass
class ReadingStory:
    """One reading."""

    story: Story
    key: Row

    def fragment(self, low: float | None = None, high: float | None = None, kind: str = "single", **values: Any) -> Row:
        """A fragment of one size, or of a range."""
        number = self.story.next("fragment", *self.key.values())
        stone = values.pop("stone", None)
        if stone is not None:
            values |= {
                "origin": "stone",
                "course_number": stone["course_number"],
                "stone_number": stone["stone_number"],
            }
        return add(
            self.story.rows,
            "fragment",
            self.key,
            fragment_number=number,
            kind=kind,
            diameter_low_mm=low,
            diameter_high_mm=low if high is None and values.get("larger_than_low") != "yes" else high,
            **values,
        )


@dataclass
class ComplicationStory:
    """One complication."""

    story: Story
    key: Row

    def therapy(
        self, what: str, given_on: date | None = None, anaesthesia: str = "none", **values: Any
    ) -> ComplicationStory:
        """Something that was done about it; ``operation``: the operation here in which it was done."""
        number = self.story.next("therapy", *self.key.values())
        operation: OperationStory | None = values.pop("operation", None)
        link = {f"treating_operation.{name}": value for name, value in operation.link.items()} if operation else {}
        add(
            self.story.rows,
            "therapy",
            self.key,
            link,
            therapy_number=number,
            what=what,
            given_on=given_on,
            anaesthesia=anaesthesia,
            **values,
        )
        return self

    def graded(self, grade: str, on: date, **values: Any) -> ComplicationStory:
        """A person's grade."""
        number = self.story.next("grading", *self.key.values())
        given = {
            "grader": "first",
            "grader_code": "G1",
            "suffix_d": "no",
            "rule_version": "clavien-dindo-2004",
        } | values
        add(self.story.rows, "grading", self.key, grading_number=number, grade=grade, graded_on=on, **given)
        return self

    def also_after(self, operation: OperationStory) -> ComplicationStory:
        """A further operation that it came after."""
        link = {f"operation.{name}": value for name, value in operation.link.items()}
        add(self.story.rows, "complication_also_after", self.key, link)
        return self
