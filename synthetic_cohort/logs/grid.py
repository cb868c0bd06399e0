"""What a log is made of before it is a file: pages of lines of cells, each cell knowing what it carries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any


class State(StrEnum):
    """What became of a registry value on its way into a file."""

    RECOVERABLE = "recoverable"  # the file still says it
    LOST = "lost"  # the mess wiped it out
    PLANTED = "planted"  # a planted error speaks of it or of its row


@dataclass(frozen=True)
class Carried:
    """A registry value that a cell carries: table, natural key, heading, the value as the registry gives it back."""

    table: str
    key: tuple[tuple[str, Any], ...]
    heading: str
    value: Any


@dataclass(frozen=True)
class Formula:
    """A formula with the result that the spreadsheet stored."""

    text: str
    result: Any


@dataclass(frozen=True)
class ErrorCell:
    """What a spreadsheet shows when a formula fails, as ``#DIV/0!``."""

    text: str


@dataclass
class Cell:
    """One cell: text, a number, a day, a formula, an error or nothing."""

    value: Any = None
    carries: tuple[Carried, ...] = ()
    lost: bool = False
    as_text: str | None = None

    def speaks_of(self, names: Sequence[str]) -> bool:
        """The cell carries one of these ``table.heading``; a dimension of what was used is one of its model."""
        said = (f"{it.table}.{it.heading}" for it in self.carries)
        return any(name.replace("equipment_use.model_code.", "equipment_model.") in names for name in said)


class LineKind(StrEnum):
    """What a line of a page is."""

    HEADING = "heading"
    DATA = "data"
    COPY = "copy"  # an identical copy of a data line
    NOISE = "noise"  # blank lines, repeated headings, totals, titles


@dataclass
class Line:
    """One row of a sheet or of a text file."""

    kind: LineKind
    cells: list[Cell]
    hidden: bool = False
    planted: str | None = None
    entry: Sequence[Any] = ()
    """The cases that a data line is about."""

    def copied(self, kind: LineKind) -> Line:
        """The same cells in a line of another kind; a copy carries nothing of its own."""
        bare = [Cell(cell.value, (), cell.lost, cell.as_text) for cell in self.cells]
        return Line(kind, bare if kind is not LineKind.DATA else [*self.cells])


@dataclass
class Page:
    """A sheet of a workbook, or a text file (then without a title)."""

    file: str
    title: str
    lines: list[Line] = field(default_factory=list)
    hidden: bool = False
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    """Merged blocks: first line and column, last line and column, counted from 0; lines as they stand at the end."""
    epoch_1904: bool = False
    about: str = ""
    """What a line of the page is: a case, a scan, a complication."""

    @property
    def data(self) -> list[Line]:
        """The lines that hold cases."""
        return [line for line in self.lines if line.kind is LineKind.DATA]


def plain(value: Any) -> Any:
    """A value as it stands in JSON: days in ISO form."""
    return value.isoformat() if isinstance(value, date) else value
