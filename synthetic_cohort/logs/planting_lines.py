"""Planted errors of sorting, pasting and copying: whole lines or a stretch of them are changed."""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from synthetic_cohort.logs.grid import Cell, Line, LineKind, Page
from synthetic_cohort.logs.style import Style

_FAR_APART_D = 40


@dataclass(frozen=True)
class Spot:
    """A line in which an error may be planted, with how many lines its patient has among the cases."""

    style: Style
    page: Page
    line: Line
    rows: int

    @property
    def mark(self) -> str:
        """What stands between day, month and year in a date that is typed."""
        return "." if self.style.delimiter == ";" else "/"

    def cell(self, target: str) -> Cell | None:
        """The first filled cell that carries a value."""
        return cell_of(self.line, target)

    def has(self, targets: Sequence[str]) -> bool:
        """There is a filled cell for each."""
        return all(self.cell(target) is not None for target in targets)


def cell_of(line: Line, target: str) -> Cell | None:
    """The first filled cell of a line that carries a value."""
    return next((cell for cell in line.cells if cell.speaks_of((target,)) and cell.value is not None), None)


def _shifted_column(spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    data = spot.page.data
    at = next(n for n, line in enumerate(data) if line is spot.line)
    stretch = data[at : at + 3]
    cells = [cell_of(line, "patient_identity.birth_date") for line in stretch]
    numbers = [case.number for line in stretch for case in line.entry]
    if len(stretch) < 3 or None in cells or len(set(numbers)) < 3 or used & set(numbers) or not spot.has(_AGE):
        return []
    values = [cell.value for cell in cells if cell is not None]
    if len(set(values)) < 3:
        return []
    for cell, above in zip(cells[1:], values, strict=False):
        if cell is not None:
            cell.value = above
    return stretch[1:]


_AGE = ("operation.age_years",)


def _sorted_in_part(spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    name = "admission.discharged_on"
    mine = spot.cell(name)
    if mine is None or spot.rows != 1:
        return []
    on = spot.line.entry[0].on
    for other in spot.page.data:
        theirs = cell_of(other, name)
        far = abs((other.entry[0].on - on).days) >= _FAR_APART_D
        if theirs is None or not far or len(other.entry) != 1 or other.entry[0].number in used:
            continue
        mine.value, theirs.value = theirs.value, mine.value
        return [spot.line, other]
    return []


def _near_copy(spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    cell = spot.cell("operation.operating_min")
    if cell is None or spot.rows != 1 or spot.page.about != "case":
        return []
    case = copy.deepcopy(spot.line.entry[0])
    case.operation["operating_min"] += 20
    made = spot.style.table(spot.page).line([case])
    _insert(spot, made, 2)
    made.entry = spot.line.entry
    return [made, spot.line]


def _next_day(spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    case = copy.deepcopy(spot.line.entry[0])
    if spot.rows != 1 or spot.page.about != "case" or case.course is None:
        return []
    for name in ("operation", "stay"):
        day = "operated_on" if name == "operation" else "admitted_on"
        getattr(case, name)[day] += timedelta(days=1)
    case.stay["discharged_on"] = max(case.stay.get("discharged_on", case.on), case.on)
    case.scan, case.reading, case.fragments, case.drain, case.complication = {}, {}, [], {}, {}
    case.stones, case.culture, case.blood = [], {}, {}
    made = spot.style.table(spot.page).line([case])
    _insert(spot, made, 1)
    made.entry = spot.line.entry
    return [made, spot.line]


def _insert(spot: Spot, made: Line, below: int) -> None:
    made.kind = LineKind.DATA
    at = next(n for n, line in enumerate(spot.page.lines) if line is spot.line)
    spot.page.lines.insert(at + below, made)


def _shifted_row(spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    line = spot.line
    start = next((n for n, cell in enumerate(line.cells) if cell.speaks_of(("treated_side.technique",))), None)
    if start is None or spot.rows != 1:
        return []
    values = [cell.value for cell in line.cells]
    for cell, value in zip(line.cells[start:], [None, *values[start:-1]], strict=True):
        cell.value = value
    return [line]


LINE_CHANGES: dict[str, Callable[[Spot, set[str], random.Random], list[Line]]] = {
    "pasted_column_shifted": _shifted_column,
    "sorted_in_part": _sorted_in_part,
    "duplicate_with_one_other_value": _near_copy,
    "operated_twice_on_one_side": _next_day,
    "row_shifted_right": _shifted_row,
}
