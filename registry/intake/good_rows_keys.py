"""What every row of a file is called and which rows it names, so that what hangs together can be told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from registry.intake.hospital_numbers import number_keys
from registry.intake.known_keys import Key, KnownKeys
from registry.intake.links import target_of
from registry.intake.moments import localise
from registry.intake.parsed_sheet import ParsedSheet, parse_sheet
from registry.intake.rows import SheetRows
from registry.intake.site_names import fill_sites
from registry.schema.tables import KeyPart, links_of, natural_key
from registry.validation.findings import FindingList

if TYPE_CHECKING:
    from registry.store.registry import Registry

Unit = tuple[str, str, int]
"""A row as the file shows it: the file, the sheet, the row number. All records made from it stand or fall together."""


@dataclass(frozen=True)
class NamedRows:
    """The rows of one sheet by what they are called.

    Attributes:
        rows: the addressed cells.
        units: the file's row behind each row.
        keys: the natural key of each row; None where it could not be read.
        links: by the table that a link leads to, the key that each row names; None where it names none.
        held: which rows the registry holds already.
    """

    rows: SheetRows
    units: list[Unit]
    keys: list[Key | None]
    links: list[tuple[str, list[Key | None]]]
    held: list[bool]

    @property
    def table(self) -> str:
        """The table that the sheet fills."""
        return self.rows.sheet.table


@dataclass(frozen=True)
class FileKeys:
    """The named rows of a file, parents before children, and the keys that the registry holds."""

    sheets: list[NamedRows]
    held: dict[str, frozenset[Key]]


def unit_of(rows: SheetRows, index: int) -> Unit:
    """The file's row behind a row."""
    place = rows.place(index)
    return place.file, place.sheet, place.row


def name_rows(registry: Registry, sheets: list[SheetRows], order: list[str], today: date) -> FileKeys:
    """Read the keys of all rows as the plan reads them; what is wrong with a cell is said there, not here.

    Args:
        registry: the registry that the rows are meant for.
        sheets: the addressed rows.
        order: the tables, parents before children.
        today: the last day that may be recorded as past.
    """
    unsaid = FindingList("")
    parsed = [parse_sheet(rows, unsaid, today) for rows in sheets]
    parsed.sort(key=lambda sheet: order.index(sheet.table))
    with registry.reading() as connection:
        studies = {s for sheet in parsed for s in sheet.values.get("study_number", ()) if s is not None}
        known = KnownKeys(connection, studies)
        fill_sites(parsed, known, unsaid)
        localise(parsed, connection, unsaid)
        targets = {sheet.table for sheet in parsed}
        targets |= {target_of(table, link) for table in set(targets) for link in links_of(table)}
        held = {table: frozenset(known.of(table)) for table in targets if table != "hospital_number"}
    return FileKeys([_named(sheet, held) for sheet in parsed], held)


def _named(sheet: ParsedSheet, held: dict[str, frozenset[Key]]) -> NamedRows:
    table = sheet.table
    links = [(target_of(table, link), _keys(sheet, parts)) for link, parts in links_of(table).items()]
    keys = number_keys(sheet) if table == "hospital_number" else _keys(sheet, natural_key(table))
    there = held.get(table, frozenset())
    units = [unit_of(sheet.rows, index) for index in range(len(sheet))]
    return NamedRows(sheet.rows, units, keys, links, [key in there for key in keys])


def _keys(sheet: ParsedSheet, parts: tuple[KeyPart, ...]) -> list[Key | None]:
    columns = []
    for part in parts:
        failed, default = sheet.failed.get(part.heading, ()), part.info.default
        values = sheet.values[part.heading]
        if default is not None:
            values = [default if v is None and n not in failed else v for n, v in enumerate(values)]
        columns.append(values)
    return [None if None in key else key for key in zip(*columns, strict=True)]
