"""What a log truly says: every registry value that its cells carry, with where it stands and what became of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from registry.schema.xlsx_parts import letters
from synthetic_cohort.logs.grid import Line, LineKind, Page, State, plain


@dataclass(frozen=True)
class At:
    """A cell of a file, as the file's own spreadsheet names it."""

    file: str
    sheet: str
    row: int
    column: str


@dataclass
class TrueValue:
    """A registry value: where in the registry, which value, where in the files, and whether they still say it."""

    table: str
    key: dict[str, Any]
    heading: str
    value: Any
    state: State
    places: list[At] = field(default_factory=list)


@dataclass(frozen=True)
class CleanRow:
    """A row of a file that holds a case with which nothing is wrong."""

    file: str
    sheet: str
    row: int


@dataclass
class Truth:
    """All values of a log, and the rows with which nothing is wrong."""

    values: list[TrueValue]
    clean: list[CleanRow]

    def as_plain(self) -> dict[str, Any]:
        """The truth as it stands in JSON."""
        return {
            "values": [
                {
                    "table": of.table,
                    "key": {name: plain(part) for name, part in of.key.items()},
                    "heading": of.heading,
                    "value": plain(of.value),
                    "state": of.state.value,
                    "places": [vars(at) for at in of.places],
                }
                for of in self.values
            ],
            "clean_rows": [vars(row) for row in self.clean],
        }


def truth_of(pages: Sequence[Page]) -> Truth:
    """The truth of finished pages.

    Raises:
        LookupError: two cells that nobody has planted an error in carry different values of one thing.
    """
    found: dict[tuple[Any, ...], TrueValue] = {}
    tainted = {case.number for page in pages for line in page.lines if line.planted for case in line.entry}
    clean: list[CleanRow] = []
    for page, number, line in _lines(pages):
        touched = any(case.number in tainted for case in line.entry)
        if not touched:
            clean.append(CleanRow(page.file, page.title, number))
        for at, cell in enumerate(line.cells):
            for it in cell.carries:
                state = State.PLANTED if touched else State.LOST if cell.lost else State.RECOVERABLE
                place = At(page.file, page.title, number, letters(at))
                known = found.get((it.table, it.key, it.heading))
                if known is None:
                    made = TrueValue(it.table, dict(it.key), it.heading, it.value, state, [place])
                    found[it.table, it.key, it.heading] = made
                    continue
                if known.value != it.value and State.PLANTED not in (known.state, state):
                    raise LookupError(f"{it.table}.{it.heading} of {dict(it.key)} is both {known.value} and {it.value}")
                known.places.append(place)
                known.state = _joined(known.state, state)
    return Truth(list(found.values()), clean)


def _lines(pages: Sequence[Page]) -> Iterable[tuple[Page, int, Line]]:
    for page in pages:
        if not page.hidden:
            for number, line in enumerate(page.lines, start=1):
                if line.kind is LineKind.DATA:
                    yield page, number, line


def _joined(one: State, other: State) -> State:
    """A value that stands in two cells is there when one of them is."""
    if State.PLANTED in (one, other):
        return State.PLANTED
    return State.RECOVERABLE if State.RECOVERABLE in (one, other) else State.LOST
