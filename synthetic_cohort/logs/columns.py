"""The columns of a log: which value of a case each one shows, in which words, and what the registry makes of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from synthetic_cohort.logs.cases import Case
from synthetic_cohort.logs.grid import Cell
from synthetic_cohort.logs.keys import carried

Shown = tuple[Any, Any]
"""What stands in the cell, and what the registry should hold."""
Show = Callable[[Any], Shown | None]


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes:
        heading: as it stands in the log.
        source: where the value stands in a case, as ``stones.0.length_mm``; empty for a column with its own ``cell``.
        targets: what it becomes, as ``stone.length_mm``; one cell may become several values.
        show: how it is written.
        number: of the stone, use or fragment.
        side: the column speaks of that kidney.
        over: the heading above it, where there are two rows of headings.
        unit: what people write after the number when they write a unit.
        vital: no mess may wipe it out: without it the row would speak of something else.
        cell: makes the whole cell from the case, for columns that hold several things.
    """

    heading: str
    source: str = ""
    targets: Sequence[str] = ()
    show: Show | None = None
    number: int = 1
    side: str = ""
    over: str = ""
    unit: str = ""
    vital: bool = False
    cell: Callable[[Case], Cell] | None = None

    def of(self, entry: Sequence[Case]) -> Cell:
        """The cell in the row of one case, or of the two sides of one operation."""
        chosen = [case for case in entry if not self.side or case.unit == self.side]
        if not chosen:
            return Cell()
        return self._cell(chosen[0])

    def _cell(self, case: Case) -> Cell:
        if self.cell is not None:
            return self.cell(case)
        value = look(case, self.source)
        shown = None if value is None or self.show is None else self.show(value)
        if shown is None:
            return Cell()
        text, kept = shown
        carries = tuple(carried(case, target, kept, self.number) for target in self.targets)
        unit = f"{text} {self.unit}" if self.unit else None
        return Cell(text, carries, as_text=unit)


def look(case: Case, source: str) -> Any:
    """A value by its path; None where it is not there."""
    if not source:
        return None
    first, *rest = source.split(".")
    found: Any = getattr(case, first)
    for step in rest:
        if isinstance(found, list):
            found = found[int(step)] if int(step) < len(found) else None
        else:
            found = found.get(step) if found is not None else None
    return found


def text(value: Any) -> Shown | None:
    """A word as it is."""
    return str(value), str(value)


def words(of: Mapping[str, str]) -> Show:
    """A code in the unit's own words; a code without a word is left blank."""
    return lambda value: (of[value], value) if value in of else None


def day(form: str) -> Show:
    """A day as text, by a form of ``strftime``; a month alone is not shown."""
    return lambda value: (value.strftime(form), value) if isinstance(value, date) else None


def real_day(value: Any) -> Shown | None:
    """A day as a date cell."""
    return (value, value) if isinstance(value, date) else None


def number(places: int = 0, step: str = "1", *, comma: bool = False, typed: bool = False) -> Show:
    """A number.

    Args:
        places: how many places are written.
        step: how many of the registry's units one of the log's is: 10 for centimetres where millimetres are kept.
        comma: a decimal comma.
        typed: a number cell rather than text.
    """

    def show(value: Any) -> Shown | None:
        if isinstance(value, str | date):
            return None
        written = f"{Decimal(str(value)) / Decimal(step):.{places}f}"
        kept = float(Decimal(written) * Decimal(step))
        if typed:
            return (int(written) if places == 0 else float(written)), kept
        return written.replace(".", ",") if comma else written, kept

    return show


def hours(value: Any) -> Shown | None:
    """Minutes as hours and minutes: 1:05."""
    return f"{int(value) // 60}:{int(value) % 60:02d}", float(value)


def procedure(techniques: Mapping[str, Any], drained: Any) -> Callable[[Case], Cell]:
    """The cell that names what was done; a drainage is a procedure too, and says what the operation was for.

    Args:
        techniques: the log's word or number for each technique.
        drained: the same for a drainage.
    """

    def cell(case: Case) -> Cell:
        aim = "drainage" if case.course is None else "stone_removal"
        made = [carried(case, "operation.purpose", aim), carried(case, "treated_side.intent", aim)]
        technique = case.side.get("technique")
        if technique and case.course is not None:
            made.append(carried(case, "treated_side.technique", technique))
        return Cell(drained if case.course is None else techniques[str(technique)], tuple(made))

    return cell
