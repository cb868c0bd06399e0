"""A mapping: how the rows of a flat log become rows of the registry. What it says, in parts; read by
``log_mapping_reader``."""

from __future__ import annotations

from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import cached_property
from typing import Any

from registry.intake.log_cells import LogSheet, Reading
from registry.intake.log_mapping_targets import Target
from registry.intake.log_patterns import Pattern

Translation = dict[str, str]
"""From what stands in a cell, folded, to what is meant. The key "" says what a blank cell means."""

ONE = "1"
"""The group of a column that names none."""


@dataclass(frozen=True)
class Status:
    """How a column that says whether anything was left is read.

    Attributes:
        table: where it becomes an entry: ``reading``.
        at_mm: the size up to which fragments were passed over; None where the log does not say.
        below: fragments of exactly that size count as well.
        yes: the words for nothing left above that size, folded.
        no: the words for something left above it, folded.
    """

    table: str
    at_mm: float | None
    below: bool
    yes: frozenset[str]
    no: frozenset[str]


@dataclass(frozen=True)
class ValueForm:
    """How values are typed in a column.

    Attributes:
        unit: what a bare number is in; "" for the field's own unit.
        decimal: the decimal mark, ``.`` or ``,``.
        dates: the declared forms of dates.
        century_from: the first of the hundred years that a year of two digits can be.
        missing: marks of a missing value, folded.
        blank: what a blank cell stands for; "" for nothing.
        values: translations by the text of their target; under "" the one for all of them.
    """

    unit: str = ""
    decimal: str = "."
    dates: tuple[str, ...] = ()
    century_from: int = 1930
    missing: frozenset[str] = frozenset()
    blank: str = ""
    values: dict[str, Translation] = field(default_factory=dict)

    def translation(self, target: Target) -> Translation | None:
        """The translation for a target; None where none is declared."""
        own = self.values.get(target.text)
        return own if own is not None else self.values.get("")


@dataclass(frozen=True)
class MappedColumn:
    """One thing that is read from a column of the log.

    Attributes:
        name: how a message names the entry of the mapping.
        heading: the heading in the log; "" where a letter is given.
        letter: the letter of the column; "" where a heading is given.
        to: where the value goes; empty where the cell is split or holds a status.
        splits: patterns of a cell that holds several things, in the order in which they are tried.
        separator: what stands between the entries of a cell that lists several; "" for one entry.
        status: how a status is read; None for other columns.
        form: how values are typed.
        side: the kidney that the column speaks of; "" for the row's.
        group: tells the records of one table and one row apart.
        file: a pattern of the names of the files that the column is in; "" for all.
        sheet: the sheet that the column is in; "" for all.
        where: other columns, by heading, each with its words: the column is read only in rows that hold one of them.
    """

    name: str
    heading: str = ""
    letter: str = ""
    to: tuple[Target, ...] = ()
    splits: tuple[Pattern, ...] = ()
    separator: str = ""
    status: Status | None = None
    form: ValueForm = ValueForm()
    side: str = ""
    group: str = ONE
    file: str = ""
    sheet: str = ""
    where: tuple[tuple[str, frozenset[str]], ...] = ()

    @cached_property
    def targets(self) -> tuple[Target, ...]:
        """Everywhere that a value of the column can go."""
        split = (piece.target for pattern in self.splits for piece in pattern.pieces)
        return tuple(dict.fromkeys((*self.to, *split)))

    def is_in(self, sheet: LogSheet) -> bool:
        """The column is meant to be in a sheet of a file."""
        return _is_in(self.file, self.sheet, sheet)


@dataclass(frozen=True)
class Constant:
    """What the log does not say because it is always so.

    Attributes:
        name: how a message names the entry of the mapping.
        to: where the value goes.
        value: the value, as it would be typed.
        group: the group it is for; None for all.
        side: the side it is for; "" for all.
        when: the heading of a column that has to be filled; "" for always.
        same_as: the target whose value is taken instead of a constant one; None for a constant.
    """

    name: str
    to: Target
    value: str = ""
    group: str | None = None
    side: str = ""
    when: str = ""
    same_as: Target | None = None


@dataclass(frozen=True)
class Ignored:
    """A column that is left where it is."""

    name: str
    heading: str = ""
    letter: str = ""


@dataclass(frozen=True)
class Extract:
    """How a row of an extract finds its case; see the kinds of a mapping."""

    finds: str = "operation_before"
    within_days: int | None = None
    fills: bool = False


@dataclass(frozen=True)
class Mapping:
    """A mapping file that was read.

    Attributes:
        file: the mapping file's name.
        name: the log's name, by which its later versions go.
        kind: ``log``, ``extract`` or ``theatre_list``.
        site: the code of the site; "" where the registry has one.
        reading: how the files are read.
        columns: what is read from which column.
        constants: what the log does not say.
        ignored: columns that are left where they are.
        extract: how a row finds its case, for an extract.
        more: the tables of the mapping that another kind of log reads for itself.
    """

    file: str
    name: str
    kind: str
    site: str
    reading: Reading
    columns: tuple[MappedColumn, ...]
    constants: tuple[Constant, ...]
    ignored: tuple[Ignored, ...]
    extract: Extract
    more: dict[str, Any] = field(default_factory=dict)


def _is_in(file: str, title: str, sheet: LogSheet) -> bool:
    named = not file or fnmatchcase(sheet.file.casefold(), file.casefold())
    return named and (not title or title.strip().casefold() == sheet.title.strip().casefold())


def folded(text: str) -> str:
    """A heading, or a word of a cell, without case and with single blanks; line breaks are blanks."""
    return " ".join(text.replace("\u00a0", " ").split()).casefold()
