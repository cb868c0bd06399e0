"""The cases of a cohort as a log knows them: one a treated side, with what a unit writes in a row about it."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from synthetic_cohort.logs.logged_words import LOGGED_COMPLICATIONS, placed
from synthetic_cohort.story import Row, Rows

REMOVAL = "stone_removal"
_LASER = ("energy_source", "pulse_energy_j", "frequency_hz", "total_energy_kj", "emission_min")


@dataclass
class Case:
    """A treated side.

    ``patient``, ``operation``, ``side``, ``stay``, ``stones``, ``drain``, ``scan``, ``reading``, ``fragments``,
    ``complication``, ``culture`` and ``blood`` hold values by the registry's headings; ``sheath``, ``scope`` and
    ``wire`` those of their models; ``course`` is the course that a log's rows imply.
    """

    patient: Row
    operation: Row
    side: Row
    course: int | None
    stay: Row
    stones: list[Row] = field(default_factory=list)
    sheath: Row = field(default_factory=dict)
    scope: Row = field(default_factory=dict)
    wire: Row = field(default_factory=dict)
    laser: Row = field(default_factory=dict)
    drain: Row = field(default_factory=dict)
    scan: Row = field(default_factory=dict)
    reading: Row = field(default_factory=dict)
    fragments: list[Row] = field(default_factory=list)
    complication: Row = field(default_factory=dict)
    culture: Row = field(default_factory=dict)
    blood: Row = field(default_factory=dict)

    @property
    def number(self) -> str:
        """The hospital number."""
        return str(self.patient["number"])

    @property
    def on(self) -> date:
        """The day of the operation."""
        day: date = self.operation["operated_on"]
        return day

    @property
    def unit(self) -> str:
        """The treated side."""
        return str(self.side["unit"])


class _Sheets:
    """The rows of a cohort by what they belong to."""

    def __init__(self, rows: Rows) -> None:
        self.rows = rows
        self.models = {row["model_code"]: row for row in rows["equipment_model"]}
        self._by: dict[tuple[str, tuple[str, ...]], dict[tuple[Any, ...], list[Row]]] = {}

    def of(self, table: str, like: Row, *names: str) -> list[Row]:
        """The rows of a table that agree with a row in some headings."""
        index = self._by.get((table, names))
        if index is None:
            index = defaultdict(list)
            for row in self.rows.get(table, []):
                index[tuple(row.get(name) for name in names)].append(row)
            self._by[table, names] = index
        return index.get(tuple(like.get(name) for name in names), [])

    def first(self, table: str, like: Row, *names: str) -> Row:
        """The first such row, or an empty one."""
        return next(iter(self.of(table, like, *names)), {})


_PATIENT = ("study_number",)
_OPERATION = ("study_number", "operated_on", "day_number")
_SIDE = (*_OPERATION, "unit", "unit_number")


def cases(rows: Rows, *, drainage: bool = True) -> list[Case]:
    """The cases in the order of their operations.

    Args:
        rows: the records of a cohort, measurements in the registry's own units.
        drainage: with sides that were only drained.
    """
    sheets, courses = _Sheets(rows), defaultdict[tuple[str, str], int](int)
    found: list[Case] = []
    by_day = sorted(rows["treated_side"], key=lambda row: (row["operated_on"], row["study_number"]))
    sides = [side for side in by_day if side["intent"] in (REMOVAL, "drainage")]
    next_on = _next_days(sides)
    for number, side in enumerate(sides):
        unit = side["study_number"], side["unit"]
        removal = side["intent"] == REMOVAL
        if removal and not (side.get("stage_number") and courses[unit]):
            courses[unit] += 1
        case = _case(sheets, side, courses[unit] if removal else None, next_on[number])
        if removal or drainage:
            found.append(case)
    return found


def _next_days(sides: list[Row]) -> list[date | None]:
    """For each side the day on which the same kidney is operated on again."""
    following: dict[tuple[str, str], date] = {}
    found: list[date | None] = []
    for side in reversed(sides):
        unit = side["study_number"], side["unit"]
        found.append(following.get(unit))
        following[unit] = side["operated_on"]
    return found[::-1]


def _case(sheets: _Sheets, side: Row, course: int | None, next_on: date | None) -> Case:
    operation = sheets.first("operation", side, *_OPERATION)
    first = sheets.first("operation_operator", side, *_OPERATION)
    identity = sheets.first("patient_identity", side, *_PATIENT)
    known = {**sheets.first("patient", side, *_PATIENT), **sheets.first("hospital_number", side, *_PATIENT), **identity}
    known["birth_date"] = date.fromisoformat(known["birth_date"])
    operation = {**operation, "operator": first.get("operator"), "age_years": _age(known["birth_date"], operation)}
    case = Case(
        patient=known,
        operation=operation,
        side={**side},
        course=course,
        stay={**sheets.first("admission", operation, "study_number", "admitted_on", "admission_number")},
    )
    if course is not None and side.get("course_number") and side.get("stage_number") == 0:
        case.stones = [
            placed(row) for row in sheets.of("stone", side, "study_number", "unit", "unit_number", "course_number")
        ]
    _equipment(sheets, case)
    _drain(sheets, case)
    _scan(sheets, case, next_on)
    happened = sheets.of("complication", side, *_OPERATION)
    mine = [row for row in happened if row.get("unit") == side["unit"] and _written(row)]
    if mine:
        grade = sheets.first("grading", mine[0], *_OPERATION, "complication_number")
        case.complication = {**mine[0], "grade": grade.get("grade")}
    grown = [
        row
        for row in sheets.of("culture", side, *_OPERATION)
        if row.get("timing") == "before" and row["culture_number"] == 1
    ]
    case.culture = {**grown[0]} if grown else {}
    drawn = [
        row
        for row in sheets.of("observation_set", side, *_OPERATION)
        if row.get("timing") == "before" and row["set_number"] == 1
    ]
    case.blood = {**drawn[0]} if drawn else {}
    return case


def _written(complication: Row) -> bool:
    """A log has a word for it, and its day."""
    return complication["what"] in LOGGED_COMPLICATIONS and isinstance(complication["onset_on"], date)


def _age(born: date, operation: Row) -> int:
    on: date = operation["operated_on"]
    return on.year - born.year - ((on.month, on.day) < (born.month, born.day))


def _equipment(sheets: _Sheets, case: Case) -> None:
    uses = [use for use in sheets.of("equipment_use", case.side, *_SIDE) if use["result"] == "passed"]
    for use in uses:
        model = sheets.models[use["model_code"]]
        name = {"access_sheath": "sheath", "scope": "scope", "guidewire": "wire"}.get(model["kind"])
        if name and not getattr(case, name):
            setattr(case, name, {**model})
    settings = sheets.of("lithotripsy_setting", case.side, *_SIDE)
    if settings and "laser" in settings[0]["energy_source"]:
        case.laser = {name: settings[0].get(name) for name in _LASER}


def _drain(sheets: _Sheets, case: Case) -> None:
    placed = sheets.of("drain", case.side, *_SIDE)
    stents = [row for row in placed if row["kind"] == "stent" and isinstance(row["placed_on"], date)]
    if stents:
        case.drain = {**stents[0]}


def _scan(sheets: _Sheets, case: Case, next_on: date | None) -> None:
    """The first scan of this kidney after the operation and before the next one."""
    read = sheets.of("reading", case.side, "study_number", "unit", "unit_number")
    for reading in sorted(read, key=lambda row: str(row["examined_on"])):
        key = ("study_number", "examined_on", "modality", "examination_number")
        scan = sheets.first("examination", reading, *key)
        on = reading["examined_on"]
        if scan.get("purpose") != "follow_up" or reading["modality"] == "second_look" or not isinstance(on, date):
            continue
        # Of two scans of one kind on one day a log tells no difference: only the first is written.
        if on > case.on and (next_on is None or on < next_on) and reading["examination_number"] == 1:
            case.scan, case.reading = {**scan}, {**reading}
            case.fragments = [
                placed(row) for row in sheets.of("fragment", reading, *key, "unit", "unit_number", "reading_number")
            ]
            return
