"""Plants errors in a log and writes down which, where, and at which cells a finding has to point."""

from __future__ import annotations

import copy
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from registry.schema.xlsx_parts import letters
from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.error_kind import ErrorKind
from synthetic_cohort.logs.grid import Line, Page
from synthetic_cohort.logs.planted_errors import ERROR_KINDS
from synthetic_cohort.logs.planting_cases import CASE_CHANGES
from synthetic_cohort.logs.planting_cells import CELL_CHANGES
from synthetic_cohort.logs.planting_lines import LINE_CHANGES, Spot
from synthetic_cohort.logs.style import Style
from synthetic_cohort.logs.truth_of_log import At

OF_PATIENT = ("leading_zero_dropped", "sex_against_other_row", "other_side_scanned", "wrong_side")
"""Kinds that show only between two lines of a patient; a finding may point at either."""


@dataclass
class Planted:
    """An error that was planted: its kind, the lines it changed."""

    kind: ErrorKind
    lines: list[Line]

    def places(self, pages: Sequence[Page]) -> list[At]:
        """The cells at which a finding has to point, any one of them."""
        cases = {self._linking(case) for line in self.lines for case in line.entry}
        found = []
        for page in pages:
            for number, line in enumerate(page.lines, start=1):
                ours = any(line is of for of in self.lines)
                linked = any(self._linking(case) in cases for case in line.entry)
                for at, cell in enumerate(line.cells):
                    meant = cell.speaks_of(self.kind.points_at) if self.kind.points_at else ours
                    if (ours or linked) and meant:
                        found.append(At(page.file, page.title, number, letters(at)))
        return found

    def _linking(self, case: Case) -> tuple[object, ...]:
        """What names the lines that a finding may point at: of the same side, or of the same patient."""
        return (case.number,) if self.kind.id in OF_PATIENT else (case.number, case.on, case.unit)

    def as_plain(self, pages: Sequence[Page]) -> dict[str, Any]:
        """As it stands in JSON."""
        return {
            "kind": self.kind.id,
            "sentence": self.kind.sentence,
            "change": self.kind.change,
            "recoverable": self.kind.recoverable,
            "ruled": self.kind.ruled,
            "places": [vars(at) for at in self.places(pages)],
        }


def plant(style: Style, pages: Sequence[Page], many: int, chance: random.Random) -> list[Planted]:
    """Plant errors, each kind in turn, each patient's lines at most once.

    Args:
        style: how the log is kept.
        pages: its pages, which are changed.
        many: how many errors; fewer where the log is too short or its columns do not allow more.
        chance: where.
    """
    planted: list[Planted] = []
    used: set[str] = set()
    kinds = list(ERROR_KINDS)
    chance.shuffle(kinds)
    while kinds and len(planted) < many:
        for kind in list(kinds):
            lines = _plant_one(style, pages, kind, used, chance) if len(planted) < many else []
            if lines:
                planted.append(Planted(kind, lines))
                used |= {case.number for line in lines for case in line.entry}
            elif len(planted) < many:
                kinds.remove(kind)
    return planted


def _plant_one(
    style: Style, pages: Sequence[Page], kind: ErrorKind, used: set[str], chance: random.Random
) -> list[Line]:
    rows = Counter(line.entry[0].number for page in pages if page.about == "case" for line in page.data)
    spots = [
        Spot(style, page, line, rows[line.entry[0].number])
        for page in pages
        for line in page.data
        if not any(case.number in used for case in line.entry) and len(line.entry) == 1
    ]
    chance.shuffle(spots)
    for spot in spots:
        lines = _try(kind, spot, used, chance)
        if lines:
            for line in lines:
                line.planted = kind.id
            return lines
    return []


def _try(kind: ErrorKind, spot: Spot, used: set[str], chance: random.Random) -> list[Line]:
    if kind.id in LINE_CHANGES:
        return LINE_CHANGES[kind.id](spot, used, chance)
    if kind.id in CELL_CHANGES:
        return [spot.line] if CELL_CHANGES[kind.id](spot, kind) else []
    change = CASE_CHANGES[kind.id]
    case: Case = copy.deepcopy(spot.line.entry[0])
    if spot.rows != change.rows or not spot.has(change.needs) or not spot.style.says(change.said):
        return []
    if not change.make(case):
        return []
    made = spot.style.table(spot.page).line([case])
    if [cell.value for cell in made.cells] == [cell.value for cell in spot.line.cells]:
        return []
    spot.line.cells = made.cells
    return [spot.line]
