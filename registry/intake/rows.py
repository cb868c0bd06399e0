"""Addressed cells: what a file says, column by column, before anything is read into it.

A workbook's sheet and a flat log both become :class:`SheetRows`; what follows asks only for these.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from registry.intake.values import Cell
from registry.schema.sheets import Sheet

if TYPE_CHECKING:
    from registry.intake.waiting import WaitingRow
    from registry.store.amending import RowChange

WORKBOOK = "workbook"


@dataclass(frozen=True)
class Place:
    """Where a value stands: the file, the sheet, the row that the file shows, the column as the file names it."""

    file: str
    sheet: str
    row: int
    column: str


@dataclass
class Origins:
    """Where rows come from that were gathered from the rows of a flat log.

    Attributes:
        rows: by row, the place of the log's row, without a column.
        columns: by heading, one column name a row (``F``; ``F, G`` where two cells made the value); empty where no cell
            stands behind the value.
        wordings: by heading, what stands in the log's cells, one a row.
        headings: by heading, how the log itself heads the column, one a row.
    """

    rows: list[Place]
    columns: dict[str, list[str]] = field(default_factory=dict)
    wordings: dict[str, list[Cell]] = field(default_factory=dict)
    headings: dict[str, list[str]] = field(default_factory=dict)


@dataclass
class SheetRows:
    """The cells of one sheet.

    Attributes:
        sheet: the layout that the sheet follows.
        title: the sheet's name as it stands in the file.
        numbers: the row numbers that the file shows, one a row, in the file's order.
        cells: by heading, one cell a row. A heading that the file does not have is not there.
        places: by heading, how the file names the column (``F`` in a workbook).
        file: the file's name.
        origins: where each row comes from, when the file is a flat log.
    """

    sheet: Sheet
    title: str
    numbers: list[int]
    cells: dict[str, list[Cell]]
    places: dict[str, str] = field(default_factory=dict)
    file: str = ""
    origins: Origins | None = None

    def __len__(self) -> int:
        return len(self.numbers)

    def place(self, index: int, heading: str = "") -> Place:
        """Where the value of a row under a heading stands in the file."""
        if self.origins is None:
            return Place(self.file, self.title, self.numbers[index], self.places.get(heading, ""))
        columns = self.origins.columns.get(heading)
        return replace(self.origins.rows[index], column=columns[index] if columns else "")

    def also(self, index: int, heading: str) -> Iterator[Place]:
        """Where else a value stands that several rows of the file share."""
        return iter(())

    def wording(self, index: int, heading: str) -> Cell:
        """What stands in the file's cell; None where there is no such cell."""
        cells = self.cells.get(heading) if self.origins is None else self.origins.wordings.get(heading)
        return cells[index] if cells else None

    def shown_heading(self, index: int, heading: str) -> str:
        """How the file itself heads the column."""
        named = self.origins.headings.get(heading) if self.origins is not None else None
        return (named[index] if named else "") or heading

    def chosen(self, keep: Sequence[int]) -> SheetRows:
        """The same sheet with some of its rows, by index."""
        origins = self.origins and Origins(
            [self.origins.rows[n] for n in keep],
            {h: [c[n] for n in keep] for h, c in self.origins.columns.items()},
            {h: [c[n] for n in keep] for h, c in self.origins.wordings.items()},
            {h: [c[n] for n in keep] for h, c in self.origins.headings.items()},
        )
        cells = {heading: [column[n] for n in keep] for heading, column in self.cells.items()}
        return replace(self, numbers=[self.numbers[n] for n in keep], cells=cells, origins=origins)


@dataclass
class FileRows:
    """A file that was read.

    Attributes:
        name: the file's name, without its folder.
        content_hash: SHA-256 of the file's bytes, in hexadecimal.
        sheets: the sheets that were recognised and hold rows, each read when it is asked for.
        ignored_examples: how many example rows of the template were passed over so far.
        read: how much of the file was read so far, in bytes of its unpacked sheets.
        size: how much there is.
        source: the log that the file is a version of, by the name in its mapping; ``workbook`` for the registry's own.
        fills: the file is an extract, which may fill what is blank in rows that are there already.
        waiting: rows of an extract that found no case, to be kept until they do.
        still_waiting: how many more found none and wait already.
        known_rows: how many found none and wait already, or were dropped by a person.
        placed: what becomes of rows that have waited and are placed now.
        head: length and hash of the change history from before the file was looked up in the registry, where it was.
    """

    name: str
    content_hash: str
    sheets: Iterator[SheetRows]
    ignored_examples: int = 0
    read: int = 0
    size: int = 0
    source: str = WORKBOOK
    fills: bool = False
    waiting: list[WaitingRow] = field(default_factory=list)
    still_waiting: int = 0
    known_rows: int = 0
    placed: list[RowChange] = field(default_factory=list)
    head: tuple[int, str] | None = None
