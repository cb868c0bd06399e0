"""A cohort as the sheets of the intake workbook: for each table, rows of heading -> value as people type it."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort import (
    record_aftermath,
    record_equipment,
    record_imaging,
    record_operation,
    record_patient,
    record_side,
)
from synthetic_cohort.awkward import awkward_patients
from synthetic_cohort.catalogue import catalogue, repairs
from synthetic_cohort.draws import Columns, generators
from synthetic_cohort.frames import Cohort
from synthetic_cohort.imaging import SECOND_LOOK
from synthetic_cohort.office_rows import office, operator_code
from synthetic_cohort.other_units import type_otherwise
from synthetic_cohort.story import OperationStory, Row, Rows, SideStory, Story, UnitStory

AWKWARD_OPERATORS = 4
"""The awkward patients are operated on by the first four operators."""

_PERSON_FIELDS = (
    "age_years", "asa_class", "charlson", "diabetes", "ischaemic_heart_disease", "chronic_kidney_disease",
    "immunosuppressed", "neurogenic_bladder", "spinal_disease", "height_cm", "weight_kg", "anticoagulant",
    "anticoagulant_handling",
)  # fmt: skip


def records(of: Cohort, *, awkward: bool = False, other_units: bool = True) -> Rows:
    """The rows of a cohort, by table, identity sheets included.

    Args:
        of: the cohort.
        awkward: add the hand-written patients, who are no part of the model's truth.
        other_units: type a share of some measurements in another unit.

    Returns:
        For each table its rows. Second looks have a diagnostic operation each, which the cohort does not count.
    """
    rows: Rows = {}
    _, chance = generators(of.seed)
    office(rows, max(of.parameters.operators, AWKWARD_OPERATORS) if awkward else of.parameters.operators)
    catalogue(rows)
    book = _Book(of, rows, chance)
    for patient in range(len(of.patients["age"])):
        book.patient(patient)
    if awkward:
        awkward_patients(rows, chance)
    repairs(rows)
    if other_units:
        type_otherwise(rows, chance)
    return rows


def _listed(columns: Columns) -> list[dict[str, Any]]:
    """Columns as a list of rows of plain Python values; days as dates."""
    lists = [values.tolist() for values in columns.values()]
    names = list(columns)
    return [dict(zip(names, values, strict=True)) for values in zip(*lists, strict=True)]


class _Book:
    """Goes through the patients of a cohort and writes each one's story."""

    def __init__(self, of: Cohort, rows: Rows, chance: random.Random) -> None:
        self.rows, self.chance = rows, chance
        self.last_day = of.parameters.last_day
        self.people, self.operations, self.sides = _listed(of.patients), _listed(of.operations), _listed(of.sides)
        self.examinations, self.readings = _listed(of.examinations), _listed(of.readings)
        self.operations_of = _grouped(self.operations, "patient")
        self.readings_of = _grouped(self.readings, "examination")
        self.examinations_of = _grouped(self.examinations, "operation")
        self.next_side = {side["parent"]: side for side in self.sides if side["parent"] >= 0}

    def patient(self, number: int) -> None:
        person, chance = self.people[number], self.chance
        mine = sorted(self.operations_of[number], key=lambda n: (self.operations[n]["on"], n))
        study_number = f"S{number + 1:05d}"
        story = Story(self.rows, study_number)
        days = [self.operations[n]["on"] for n in mine]
        record_patient.person(story, chance, person, days[0], days[-1])
        treated = {"left" if self.sides[s]["left"] else "right" for n in mine for s in self._sides_of(n)}
        units = record_patient.units(story, chance, treated, person["recurrent"])
        record_patient.identity(self.rows, study_number, number + 1, person["birth_year"], chance)
        stones: dict[tuple[str, int], list[Row]] = {}
        written: dict[int, OperationStory] = {}
        for n in mine:
            written[n] = self._operation(n, story, units, person, stones)
        self._scans(story, units, mine, written, stones)

    def _sides_of(self, operation: int) -> list[int]:
        of = self.operations[operation]
        return list(dict.fromkeys((of["first_side"], of["second_side"])))

    def _operation(
        self,
        n: int,
        story: Story,
        units: dict[str, UnitStory],
        person: dict[str, Any],
        stones: dict[tuple[str, int], list[Row]],
    ) -> OperationStory:
        of, chance = self.operations[n], self.chance
        numbers = self._sides_of(n)
        techniques = {self.sides[s]["technique"] for s in numbers}
        later = self.sides[numbers[0]]["parent"] >= 0 and self.sides[numbers[0]]["kind"] > 0
        made = record_operation.operation(story, chance, of, person, techniques, later)
        for s in numbers:
            self._side(s, made, units, of["minutes"] // len(numbers), len(numbers) > 1, stones)
        unit = units["left" if self.sides[numbers[0]]["left"] else "right"]
        record_operation.cultures(made, chance, of)
        record_operation.observations(made, chance, of, person)
        record_aftermath.infection(made, chance, of, unit)
        record_aftermath.others(made, chance, of, unit, techniques)
        record_aftermath.review(story, chance, of)
        until = min(person["died_on"], self.sides[numbers[0]]["next_on"])
        if of["removal"]:
            record_aftermath.later_events(story, chance, of, unit, self.sides[numbers[0]]["residual_mm"], until)
        return made

    def _side(
        self, s: int, made: OperationStory, units: dict[str, UnitStory], minutes: int, bilateral: bool,
        stones: dict[tuple[str, int], list[Row]],
    ) -> SideStory:  # fmt: skip
        of, chance, on = self.sides[s], self.chance, made.key["operated_on"]
        following = self.next_side.get(s)
        next_on: date | None = self.operations[following["operation"]]["on"] if following else None
        of["removal"] = self.operations[of["operation"]]["removal"]
        soon = next_on is not None and (next_on - on).days <= record_side.LONGEST_DWELL_D
        of["stent_stays"] = soon and following is not None and following["pre_stented"]
        name = "left" if of["left"] else "right"
        unit = units[name]
        side = record_side.treated(made, unit, chance, of, minutes, bilateral)
        record_side.drains_before(side, chance, of, on)
        found = record_side.stones(side, chance, of, on)
        if found:
            stones[name, of["course"]] = found
            record_imaging.planning(made.story, chance, unit, of, found)
        known = stones.get((name, of["course"]), [])
        record_side.aims(side, chance, of, known)
        record_side.staging(side, of, on, next_on, following["kind"] if following else None)
        stented = "stent" in side.row["exit_strategy"]
        if of["removal"] and side.row["conduct"] != "not_started":
            record_equipment.uses(side, chance, of, on, stented)
            record_equipment.tract(side, chance, of)
            spent = record_equipment.settings(side, chance, of, on, minutes)
            if spent:
                side.row["lithotripsy_min"] = min(round(spent * 1.4, 1), minutes)
        else:
            side.use("GW-35")
            side.use("ST-6")
        record_side.drains_after(made, side, chance, of, next_on)
        record_side.events(side, chance, of)
        record_side.analysed(made, side, chance, of, known[0] if known else None)
        return side

    def _scans(
        self, story: Story, units: dict[str, UnitStory], mine: list[int], written: dict[int, OperationStory],
        stones: dict[tuple[str, int], list[Row]],
    ) -> None:  # fmt: skip
        days = {self.operations[n]["on"] for n in mine}
        for n in mine:
            of = self.operations[n]
            for e in self.examinations_of.get(n, []):
                examined = self.examinations[e]
                looked = examined["modality"] == SECOND_LOOK
                made = record_imaging.follow_up(story, self.chance, examined, looked or examined["on"] in days)
                theatre = None
                if looked:
                    known = written[n].row
                    known = {name: known[name] for name in _PERSON_FIELDS if name in known}
                    theatre = record_imaging.second_look(story, examined, operator_code(of["operator"]), known)
                for r in self.readings_of[e]:
                    reading = self.readings[r]
                    side = self.sides[reading["side"]]
                    name = "left" if side["left"] else "right"
                    known_stones = stones.get((name, side["course"]), [])
                    stone = known_stones[0] if known_stones else None
                    record_imaging.read(made, self.chance, units[name], reading, side, stone)
                    if theatre:
                        looked_at = theatre.side(units[name], **_LOOKED)
                        looked_at.use("SC-75", serial_as_scanned=f"D{self.chance.randint(100000, 999999)}")
            if not of["scanned"] and of["removal"]:
                dead_before = self.people[of["patient"]]["died_on"] < of["on"] + timedelta(days=31)
                if not dead_before:
                    record_imaging.not_done(story, self.chance, of["on"], date(2025, 6, 30))


_LOOKED: Row = {
    "intent": "diagnostic", "conduct": "completed", "hydronephrosis": "none", "pre_stented": "no",
    "access_gained": "yes", "nephrostomy_before": "no", "irrigation_drive": "gravity", "irrigation_height_cm": 60,
    "suction": "none", "ureteric_lesion": "0", "satava": "0", "surgeon_judgement": "not_applicable",
    "exit_strategy": "none", "technique": "flexible",
}  # fmt: skip


def _grouped(rows: list[dict[str, Any]], by: str) -> dict[int, list[int]]:
    """Row numbers by the value of a column."""
    found: dict[int, list[int]] = {}
    for number, row in enumerate(rows):
        found.setdefault(row[by], []).append(number)
    return found
