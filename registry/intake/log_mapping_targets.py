"""What a mapping can aim at: tables and headings of the intake workbook, and the nearest of them to a wrong name."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import cache

from registry.intake.theatre_list_targets import LINE, line_sheet
from registry.schema.base import model_of
from registry.schema.fields import Day, FieldInfo, Reference, info_of
from registry.schema.sheets import Sheet, SheetColumn, identity_sheets, sheets
from registry.schema.tables import heading, links_of, metadata, natural_key

# A row of a log speaks of one of each of these (of one a side): what hangs on them is named by the row itself.
CONTEXT = ("site", "patient", "renal_unit", "operation", "treated_side", "course")


@dataclass(frozen=True)
class Target:
    """One heading of one sheet of the intake workbook."""

    table: str
    heading: str

    @property
    def text(self) -> str:
        """As a mapping writes it."""
        return f"{self.table}.{self.heading}"

    @property
    def column(self) -> SheetColumn:
        """The sheet's column."""
        return column_named(self.table, self.heading)

    @property
    def info(self) -> FieldInfo:
        """The declaration of the field."""
        return self.column.info


@cache
def layouts() -> dict[str, Sheet]:
    """The sheets that a log can fill, by table, parents before children."""
    return {sheet.table: sheet for sheet in (*sheets(), *identity_sheets())}


def sheet_of(table: str) -> Sheet:
    """The layout of a table's sheet, or of the lines of a theatre list."""
    return line_sheet() if table == LINE else layouts()[table]


@cache
def column_named(table: str, heading: str) -> SheetColumn:
    """A column of a table's sheet.

    Raises:
        KeyError: there is none of that heading.
    """
    return sheet_of(table).column(heading)


@cache
def key_headings(table: str) -> tuple[str, ...]:
    """The headings by which people name a table's rows, in the order of its natural key."""
    return tuple(part.heading for part in natural_key(table))


@cache
def all_targets() -> dict[str, Target]:
    """Every target by its text."""
    return {f"{table}.{name}": Target(table, name) for table, sheet in layouts().items() for name in sheet.headings}


def find_target(text: str) -> Target | str:
    """A target by its text, moved to the table that the heading belongs to; else what may have been meant."""
    wanted = text.strip().casefold()
    table, _, name = wanted.partition(".")
    if table == LINE:
        known = line_sheet().headings
        return Target(LINE, name) if name in known else f"one of: {', '.join(known)}"
    target = all_targets().get(wanted)
    if target == Target("operator", "operator"):
        # The name alone would be entered among the operators, and who did this operation would be lost.
        return Target("operation_operator", "operator")
    return nearest_targets(wanted) if target is None else owner_of(target)


def nearest_targets(text: str) -> str:
    """The targets spelled most alike, in words; empty where none is."""
    table, _, name = text.partition(".")
    known = layouts().get(table)
    if known is not None:
        near = [f"{table}.{one}" for one in difflib.get_close_matches(name, known.headings, n=3, cutoff=0.5)]
    else:
        same = [one for one in all_targets() if one.partition(".")[2] == name][:3]
        near = difflib.get_close_matches(text, all_targets(), n=3, cutoff=0.6) or same
    if near:
        return f"perhaps {' or '.join(near)}"
    if known is not None:
        return f"one of: {', '.join(known.headings)}"
    return f"table.heading, with one of the tables: {', '.join(layouts())}"


@cache
def owner_of(target: Target) -> Target:
    """Where a value is kept that only names a row in its sheet: ``stone.unit`` is ``renal_unit.unit``."""
    column = target.column
    named = [name for name in column.links if info_of(metadata.tables[target.table].columns[name]).required]
    if not named or target == Target("operation_operator", "operator"):
        return target
    info = column.info
    return Target(info.table, heading(info.table, info.name))


@cache
def parents_of(table: str) -> tuple[str, ...]:
    """The tables that a table's rows need and of which a log's row may hold several: a fragment needs its reading."""
    found = []
    for name in links_of(table):
        info = info_of(metadata.tables[table].columns[name])
        assert isinstance(info.kind, Reference)
        if info.required and info.kind.table not in CONTEXT:
            found.append(info.kind.table)
    return tuple(found)


@cache
def of_side(table: str) -> bool:
    """A row of the table belongs to one renal unit."""
    return any(part.heading == "unit" for part in natural_key(table))


@cache
def of_operation(table: str) -> bool:
    """A row of the table belongs to one operation."""
    return any(part.heading == "operated_on" for part in natural_key(table))


@cache
def of_course(table: str) -> bool:
    """A row of the table belongs to one course."""
    return table != "course" and any(part.heading == "course_number" for part in natural_key(table))


@cache
def number_heading(table: str) -> str | None:
    """The heading by which like rows of a table are counted: ``stone_number``."""
    own = model_of(metadata.tables[table]).key_fields
    if own[-1] not in metadata.tables[table].columns:
        return None
    info = info_of(metadata.tables[table].columns[own[-1]])
    return heading(table, info.name) if info.default is not None and not isinstance(info.kind, Reference) else None


@cache
def dated(table: str) -> bool:
    """A day of its own is part of what names a row."""
    own = model_of(metadata.tables[table]).key_fields
    return any(isinstance(info_of(metadata.tables[table].columns[name]).kind, Day) for name in own)


@cache
def counted_by_day(table: str) -> bool:
    """Rows are counted within a day (or within something longer than a log's row) rather than by their column."""
    return dated(table) or table in ("stone_analysis", "reading", "repair")
