"""From the records of a log to the sheets of the intake workbook, every value with the cell that it came from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from registry.intake.log_cells import LogSheet
from registry.intake.log_mapping_targets import layouts
from registry.intake.log_records import RowValues
from registry.intake.log_records_store import Record, RecordStore
from registry.intake.rows import Origins, Place, SheetRows
from registry.intake.values import Cell

Shared = list[tuple[Place, dict[str, str]]]
"""Rows of a log, each with letters of its columns by heading."""


@dataclass
class LogRows(SheetRows):
    """The rows of a sheet, gathered from a log.

    Attributes:
        elsewhere: places of values that come from another row of the log than their record, by index and heading.
        shared: further rows of the log that made the same record, by index.
    """

    elsewhere: dict[tuple[int, str], Place] = field(default_factory=dict)
    shared: dict[int, Shared] = field(default_factory=dict)

    def place(self, index: int, heading: str = "") -> Place:
        """Where the value of a row under a heading stands in the log."""
        return self.elsewhere.get((index, heading)) or super().place(index, heading)

    def also(self, index: int, heading: str) -> Iterator[Place]:
        """Where else the same value of the same record stands."""
        for place, letters in self.shared.get(index, ()):
            yield replace(place, column=letters.get(heading, ""))

    def chosen(self, keep: Sequence[int]) -> SheetRows:
        """The same sheet with some of its rows, by index."""
        kept = super().chosen(keep)
        new = {old: index for index, old in enumerate(keep)}
        moved = {(new[index], h): place for (index, h), place in self.elsewhere.items() if index in new}
        shared = {new[index]: rows for index, rows in self.shared.items() if index in new}
        return replace(kept, elsewhere=moved, shared=shared)  # type: ignore[call-arg]


def sheets_of(store: RecordStore) -> Iterator[SheetRows]:
    """The sheets that a log fills, parents before children."""
    for table in layouts():
        records = [record for record in store.of(table) if not _known_by_code_alone(record)]
        if records:
            yield _sheet(table, records)


def _known_by_code_alone(record: Record) -> bool:
    """A model of which the log gives the code alone has to be in the catalogue already."""
    return record.table == "equipment_model" and "kind" not in record.values


def _sheet(table: str, records: list[Record]) -> LogRows:
    layout = layouts()[table]
    used = {heading for record in records for heading in record.values}
    needed = {column.heading for column in layout.columns if column.info.required and not column.links}
    headings = [heading for heading in layout.headings if heading in used | needed]
    origins = Origins([record.row.place() for record in records])
    count = len(records)
    cells: dict[str, list[Cell]] = {heading: [None] * count for heading in headings}
    origins.columns = {heading: [""] * count for heading in headings}
    origins.wordings = {heading: [None] * count for heading in headings}
    origins.headings = {heading: [""] * count for heading in headings}
    written = {h: (cells[h], origins.columns[h], origins.wordings[h], origins.headings[h]) for h in headings}
    elsewhere: dict[tuple[int, str], Place] = {}
    named = _Columns()
    # Most records leave most columns blank: only what is there is written.
    for index, record in enumerate(records):
        values, others = record.values, record.rows
        for heading, value in values.items():
            column, letters, wordings, names = written[heading]
            column[index] = value.cell
            at = value.columns
            row = record.row
            if others and heading in others and others[heading] is not row:
                row = others[heading]
                elsewhere[index, heading] = row.place(at)
            if at:
                letters[index], names[index] = named.of(row.bound.sheet, at)
                wordings[index] = _wording(row, at)
        for heading in needed:
            if heading not in values and (at := named.blank(record.row, record, heading) or _naming(record)):
                _, letters, wordings, names = written[heading]
                letters[index], names[index] = named.of(record.row.bound.sheet, at)
                wordings[index] = _wording(record.row, at)
    file = records[0].row.sheet.file
    numbers = [record.row.number for record in records]
    sheet = LogRows(layout, layout.title, numbers, cells, file=file, origins=origins, elsewhere=elsewhere)
    known: dict[tuple[Any, ...], dict[str, str]] = {}
    sheet.shared = {n: _shared(record, known) for n, record in enumerate(records) if record.shared}
    return sheet


def _naming(record: Record) -> tuple[int, ...]:
    """The cells that say which side, or which operation, a record is about, where no column could hold a value."""
    named = (record.values.get(heading) for heading in ("unit", "operated_on"))
    return next((value.columns for value in named if value is not None and value.columns), ())


def _shared(record: Record, known: dict[tuple[Any, ...], dict[str, str]]) -> Shared:
    """The further rows that made a record, each with the letters of the cells by heading."""
    found = []
    for row, values in record.shared:
        parts = tuple((heading, value.columns) for heading, value in values.items() if value.columns)
        letters = known.get((id(row.bound), parts))
        if letters is None:
            letters = {h: ", ".join(row.bound.sheet.columns[at] for at in columns) for h, columns in parts}
            known[id(row.bound), parts] = letters
        found.append((row.place(), letters))
    return found


class _Columns:
    """The letters and headings of some columns of a sheet, each put together once."""

    def __init__(self) -> None:
        self._names: dict[tuple[int, tuple[int, ...]], tuple[str, str]] = {}
        self._blanks: dict[tuple[int, str], tuple[int, ...]] = {}

    def of(self, sheet: LogSheet, columns: tuple[int, ...]) -> tuple[str, str]:
        """Letters and headings."""
        key = (id(sheet), columns)
        found = self._names.get(key)
        if found is None:
            letters = ", ".join(sheet.columns[at] for at in columns)
            headings = " / ".join(dict.fromkeys(" ".join(sheet.headings[at].split()) for at in columns))
            found = self._names[key] = (letters, headings)
        return found

    def blank(self, row: RowValues, record: Record, heading: str) -> tuple[int, ...]:
        """The column that would have held a value, where it is blank."""
        table, key = record.table, (id(row.bound), heading)
        found = self._blanks.get(key)
        if found is None:
            fitting = (
                index
                for column, index in row.bound.columns
                if any(target.table == table and target.heading == heading for target in column.targets)
            )
            found = self._blanks[key] = tuple(list(fitting)[:1])
        return found


def _wording(row: RowValues, columns: tuple[int, ...]) -> Cell:
    cells = row.bound.sheet.rows[row.at]
    if len(columns) == 1:
        return cells[columns[0]].text
    return " / ".join(cells[index].text.strip() for index in columns)
