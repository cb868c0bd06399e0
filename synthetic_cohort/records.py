"""A cohort as the sheets of the intake workbook: for each table, rows of heading -> value as people type it."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from synthetic_cohort import (
    record_aftermath,
    record_anatomy,
    record_complications,
    record_equipment,
    record_findings,
    record_imaging,
    record_observations,
    record_operation,
    record_patient,
    record_side,
)
from synthetic_cohort.awkward import awkward_patients
from synthetic_cohort.catalogue import catalogue, repairs
from synthetic_cohort.complication_kinds import INFECTION, KINDS
from synthetic_cohort.draws import Columns, generators, named_chance
from synthetic_cohort.frames import PLANNED, Cohort
from synthetic_cohort.imaging import SECOND_LOOK
from synthetic_cohort.office_rows import office, operator_code
from synthetic_cohort.other_units import type_otherwise
from synthetic_cohort.record_complications import Around
from synthetic_cohort.record_scopes import opened
from synthetic_cohort.story import OperationStory, Row, Rows, SideStory, Story, UnitStory

FEVER = next(number for number, kind in enumerate(KINDS) if kind.name == "fever")
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
        self.rows, self.chance, self.parameters = rows, chance, of.parameters
        names = ("anatomy", "findings", "equipment", "observations", "complications", "second readers", "stages")
        self.own = {name: named_chance(of.seed, "records: " + name) for name in names}
        self.people, self.operations, self.sides = _listed(of.patients), _listed(of.operations), _listed(of.sides)
        self.examinations, self.readings = _listed(of.examinations), _listed(of.readings)
        self.operations_of = _grouped(self.operations, "patient")
        self.second_readings = {row["reading"]: row for row in _listed(of.second_readings)}
        self.complications = _listed(of.complications)
        self.complications_of = _grouped(self.complications, "operation")
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
        units = record_patient.units(story, chance, treated, person["recurrent"], self._anatomy)
        record_patient.identity(self.rows, study_number, number + 1, person["birth_year"], chance)
        stones: dict[tuple[str, int], list[Row]] = {}
        written: dict[int, OperationStory] = {}
        for n in mine:
            written[n] = self._operation(n, story, units, person, stones)
            self._aftermath(n, story, units, written)
        self._scans(story, units, mine, written, stones)

    def _anatomy(self) -> str:
        return record_anatomy.anatomy(self.parameters, self.own["anatomy"])

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
        record_operation.cultures(made, chance, of)
        return made

    def _aftermath(self, n: int, story: Story, units: dict[str, UnitStory], written: dict[int, OperationStory]) -> None:
        """What came after an operation. ``written``: the patient's operations so far, this one last."""
        of, chance, made = self.operations[n], self.chance, written[n]
        person, side = self.people[of["patient"]], self.sides[of["first_side"]]
        unit = units["left" if side["left"] else "right"]
        record_operation.ended_by_death(made, person["died_on"])
        of["days_ahead"] = min(of["days_ahead"], (person["died_on"] - of["on"]).days)
        rows = [self.complications[c] | {"sepsis": of["sepsis"]} for c in self.complications_of.get(n, [])]
        before = [story for number, story in written.items() if number != n]
        around = Around(unit, before[-1] if before else None, person["died_on"])
        for row in rows:
            record_complications.complication(self.parameters, made, self.own["complications"], row, around)
        if side["kind"] == PLANNED and self.own["stages"].random() < self.parameters.share_planned_written:
            first = written[self.sides[side["parent"]]["operation"]]
            record_complications.planned_stage_written(first, made, unit)
        infected = next((row for row in rows if row["kind"] == INFECTION), {})
        feverish = next((row for row in rows if row["kind"] == FEVER and row["known"]), {})
        of |= {"organs": infected.get("organs", 0), "infection_day": infected.get("day", -1)}
        of |= {"feverish": bool(feverish), "feverish_day": feverish.get("day", -1)}
        record_observations.observations(self.parameters, made, self.own["observations"], of, person)
        record_aftermath.review(story, chance, of)
        if of["removal"]:
            until = min(person["died_on"], side["next_on"])
            record_aftermath.later_events(story, chance, of, unit, side["residual_mm"], until)

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
        record_findings.findings(self.parameters, made, side, self.own["findings"], of, bilateral)
        record_anatomy.lower_pole(self.parameters, side, self.own["anatomy"], of)
        found = record_side.stones(side, chance, of, on)
        if found:
            rows = self.rows["stone"][-len(found) :]
            record_anatomy.stones(self.parameters, side, self.own["anatomy"], rows)
            stones[name, of["course"]] = found
            record_imaging.planning(made.story, chance, unit, of, found)
        known = stones.get((name, of["course"]), [])
        record_side.aims(side, chance, of, known)
        record_side.staging(side, of, on, next_on, following["kind"] if following else None)
        stented = "stent" in side.row["exit_strategy"]
        if of["removal"] and side.row["conduct"] != "not_started":
            record_equipment.uses(self.parameters, side, chance, self.own["equipment"], of, on, stented)
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
                    who = record_imaging.read(made, self.chance, units[name], reading, side, stone)
                    again = self.second_readings.get(r)
                    if again is not None:
                        other = self.own["second readers"]
                        record_imaging.read(made, other, units[name], again, side, stone, who)
                    if theatre:
                        looked_at = theatre.side(units[name], **_LOOKED)
                        opened(self.parameters, looked_at, self.own["equipment"], "SC-75", examined["on"])
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
