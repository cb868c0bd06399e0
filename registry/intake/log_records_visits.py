"""Which rows speak of one operation, and to which course each of its sides belongs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from registry.intake.existing_rows import stored_rows
from registry.intake.known_keys import KnownKeys
from registry.intake.log_mapping import ONE
from registry.intake.log_mapping_targets import owner_of
from registry.intake.log_records import LogValue, RowValues
from registry.intake.log_records_complete import treated
from registry.intake.log_records_store import canonical, same_cell
from registry.schema.tables import metadata
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

Unit = tuple[str, str, int]
"""Study number, renal unit and number of the unit."""
REMOVAL = "stone_removal"


@dataclass
class Case:
    """A row with all that places what it says.

    Attributes:
        row: the row.
        study: the study number.
        operated_on: the day of the operation; None where the row names none.
        day_number: the number of the operation on that day.
        courses: the number of the course by side; a side without one is left out.
        stages: the stage of the course by side, where the log does not say it.
    """

    row: RowValues
    study: str
    operated_on: date | None = None
    day_number: int = 1
    courses: dict[str, int] = field(default_factory=dict)
    stages: dict[str, int] = field(default_factory=dict)

    @property
    def sides(self) -> list[str]:
        """The renal units that the operation treated."""
        return treated(self.row) if self.operated_on is not None else []

    def unit_number(self, side: str) -> int:
        """The number of a renal unit: 1 but for a further transplant."""
        value = self.row.value("renal_unit", "unit_number", side)
        number = None if value is None else canonical("renal_unit", "unit_number", value.cell)
        return 1 if number is None else int(number)


def number_visits(cases: Sequence[Case], findings: FindingList) -> list[Case]:
    """Give each operation the number of its day: another side is the same visit, the same side again is another.

    A row that says all that another one says, only typed otherwise, is that one: it is left out of what comes back.
    """
    copies: set[int] = set()
    told = {case.row.bound.layout: _told_of_operations(case.row) for case in cases}
    most = max(told.values(), default=0)
    used: dict[tuple[str, date, int, frozenset[str]], dict[str, Case]] = {}
    for case in cases:
        if case.operated_on is None:
            continue
        value = case.row.value("operation", "day_number")
        said = None if value is None else canonical("operation", "day_number", value.cell)
        if said is not None:
            case.day_number = said
            continue
        layout = case.row.bound.layout
        # A sheet that lists the stones of operations which another one describes has many rows for each.
        if told[layout] < most:
            continue
        sides = case.sides or [""]
        first = used.get((case.study, case.operated_on, 1, layout), {}).get(sides[0])
        if first is not None and _says_the_same(case.row, first.row):
            copies.add(id(case))
            _stands_twice(case.row, first.row, findings)
            continue
        while (there := used.setdefault((case.study, case.operated_on, case.day_number, layout), {})) and any(
            side in there for side in sides
        ):
            case.day_number += 1
        if case.day_number > 1:
            _again(case, used[case.study, case.operated_on, 1, layout], sides, findings)
        there.update(dict.fromkeys(sides, case))
    return [case for case in cases if id(case) not in copies]


def number_courses(registry: Registry, cases: Sequence[Case]) -> None:
    """Give each side its course: a removal begins the next one of its kidney, a later stage continues the last.

    A side that the registry holds keeps what stands there.
    """
    held, courses = _held(registry, {case.study for case in cases})
    timeline: dict[Unit, dict[tuple[date, int], list[Case]]] = {}
    for case in cases:
        for side in case.sides:
            assert case.operated_on is not None
            unit = (case.study, side, case.unit_number(side))
            timeline.setdefault(unit, {}).setdefault((case.operated_on, case.day_number), []).append(case)
    for unit, visits in timeline.items():
        known = held.get(unit, {})
        numbers = courses.get(unit, set())
        latest: int | None = None
        for visit in sorted({*visits, *known}):
            if visit in known:
                latest = _keep(visits.get(visit, []), unit[1], *known[visit], latest)
            else:
                latest = _give(visits[visit], unit[1], numbers, latest)


def _keep(cases: list[Case], side: str, course: int | None, stage: int | None, latest: int | None) -> int | None:
    for case in cases:
        if course is not None:
            case.courses[side] = course
        if stage is not None:
            case.stages[side] = stage
    return latest if course is None else course


def _give(cases: list[Case], side: str, numbers: set[int], latest: int | None) -> int | None:
    said: list[int | None] = [_said(case, side, "course_number") for case in cases]
    stage = next((s for case in cases if (s := _said(case, side, "stage_number")) is not None), None)
    intent = next((i for case in cases if (i := _said(case, side, "intent")) is not None), None)
    course = next((number for number in said if number is not None), None)
    if course is None and (intent == REMOVAL or stage is not None):
        course = latest if stage and latest is not None else max(numbers, default=0) + 1
    if course is None:
        return latest
    numbers.add(course)
    for case in cases:
        case.courses[side] = course
        if intent == REMOVAL and stage is None:
            case.stages[side] = 0
    return course


def _said(case: Case, side: str, heading: str) -> Any:
    value: LogValue | None = case.row.value("treated_side", heading, side)
    return None if value is None else canonical("treated_side", heading, value.cell)


def _told_of_operations(row: RowValues) -> int:
    """How much a row's sheet tells of operations: 2 more than which they are, 1 their sides, 0 neither."""
    columns = [column for column, _ in row.bound.columns]
    targets = [target for column in columns for target in column.targets]
    if any(t.table in ("operation", "treated_side") and owner_of(t) == t and not t.column.in_key for t in targets):
        return 2
    return int(any(column.side for column in columns) or any(t.text == "renal_unit.unit" for t in targets))


def _says_the_same(one: RowValues, other: RowValues) -> bool:
    """Two rows mean the same in every cell, if not in the same letters."""
    if one.values.keys() != other.values.keys() or one.failed or other.failed:
        return False
    for key, values in one.values.items():
        theirs = other.values[key]
        if values.keys() != theirs.keys():
            return False
        if not all(same_cell(key[0], heading, v.cell, theirs[heading].cell) for heading, v in values.items()):
            return False
    return True


def _stands_twice(row: RowValues, first: RowValues, findings: FindingList) -> None:
    where = f"row {first.number}" + ("" if first.sheet is row.sheet else f" of {first.sheet.file}")
    why = f"The row says the same as {where}; it was taken once."
    row.report(findings, (), Problem("log.row.once", Severity.NOTE, why))


def _again(case: Case, there: dict[str, Case], sides: list[str], findings: FindingList) -> None:
    first = next((there[side] for side in sides if side in there), None)
    if first is None:
        return
    value = case.row.value("operation", "operated_on")
    row = f"row {first.row.number}" + ("" if first.row.sheet is case.row.sheet else f" of {first.row.sheet.file}")
    side = f" on the {' and '.join(sides)}" if sides != [""] else ""
    why = (
        f"The same patient was operated on{side} that day in {row} already: this is visit {case.day_number} of the day."
    )
    right = "two visits on one day; or one row for the visit"
    case.row.report(findings, value.columns if value else (), Problem("log.visit.again", Severity.QUESTION, why, right))


def _held(
    registry: Registry, studies: set[str]
) -> tuple[dict[Unit, dict[tuple[date, int], tuple[int | None, int | None]]], dict[Unit, set[int]]]:
    """The sides that the registry holds, each with its course and stage; and the numbers of the courses."""
    held: dict[Unit, dict[tuple[date, int], tuple[int | None, int | None]]] = {}
    numbers: dict[Unit, set[int]] = {}
    with registry.reading() as connection:
        known = KnownKeys(connection, studies)
        courses = {}
        for (_, study, side, unit_number, course), row_id in known.of("course").items():
            courses[row_id] = course
            numbers.setdefault((study, side, unit_number), set()).add(course)
        sides = {row_id: key for key, row_id in known.of("treated_side").items()}
        for row_id, row in stored_rows(connection, metadata.tables["treated_side"], list(sides)):
            _, study, operated_on, day_number, side, unit_number = sides[row_id]
            stage = row["stage_number"]
            entry = (courses.get(row["course_id"]), stage)
            held.setdefault((study, side, unit_number), {})[operated_on, day_number] = entry
    return held, numbers


def day_of_case(row: RowValues) -> date | None:
    """The day of the operation that a row speaks of; None where it names none or it cannot be read."""
    value = row.values.get(("operation", "", ONE), {}).get("operated_on")
    return None if value is None else canonical("operation", "operated_on", value.cell)
