"""One declaration for each thing that is recorded.

``field(...)`` makes a database column and hangs a :class:`FieldInfo` on it. Tables, CHECK constraints, the
intake's tests, the workbook template, the quality suites and the data dictionary are all read off that one
record; nothing about a field is stated anywhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any

from sqlalchemy import Column, ForeignKey
from sqlalchemy.orm import MappedColumn, mapped_column
from sqlalchemy.types import TypeEngine

from registry.schema import types
from registry.schema.codes import CodeList


class Stage(StrEnum):
    """The stage of a case by which a field has to be there."""

    ENTRY = "entry"  # the row does not exist without it
    OPERATION = "operation"
    DISCHARGE = "discharge"
    FOLLOW_UP = "follow_up"


class Arises(StrEnum):
    """The point of the story at which a value comes into being.

    A value that arises after access is never a fair adjuster of what the equipment did.
    """

    BEFORE = "before"
    CHOICE = "choice_of_equipment"
    ACCESS = "access"
    AFTER_ACCESS = "after_access"
    FOLLOW_UP = "follow_up"


@dataclass(frozen=True)
class Whole:
    """A whole number. ``scale`` and ``typed_unit``: people type 9.5 (Fr), 95 (tenths) is stored, exactly."""

    unit: str = ""
    low: int | None = None
    high: int | None = None
    plausible: tuple[float, float] | None = None
    scale: int = 1
    typed_unit: str = ""


@dataclass(frozen=True)
class Number:
    """A measured number with its unit; limits are inclusive and in that unit."""

    unit: str = ""
    low: float | None = None
    high: float | None = None
    plausible: tuple[float, float] | None = None


@dataclass(frozen=True)
class Code:
    """One value of a code list."""

    list: type[CodeList]


@dataclass(frozen=True)
class Text:
    """A short name, number or code that people do not phrase freely."""

    longest: int = 80


@dataclass(frozen=True)
class Note:
    """Free wording. It may hold a person's name, so it is stored encrypted and never leaves the registry."""

    longest: int = 4000


@dataclass(frozen=True)
class Secret:
    """An identifying value, stored encrypted. ``searched``: found by exact value through a keyed index."""

    longest: int = 200
    searched: bool = False


@dataclass(frozen=True)
class Day:
    """A calendar date.

    ``imprecise``: may be known to the month or the year only (a companion column says so). ``ahead``: may lie after
    today, as what is planned, falls due or is agreed for later does; what happened cannot.
    """

    low: date = date(1900, 1, 1)
    high: date = date(2200, 1, 1)
    imprecise: bool = False
    ahead: bool = False


@dataclass(frozen=True)
class Moment:
    """A time stamp, stored in UTC."""


@dataclass(frozen=True)
class Reference:
    """A link to a row of another table."""

    table: str


@dataclass(frozen=True)
class RowKey:
    """The surrogate key of a row."""


@dataclass(frozen=True)
class Keeping:
    """Book-keeping of the store itself (ciphertext, fingerprints, images), never typed by a person."""


Kind = Whole | Number | Code | Text | Note | Secret | Day | Moment | Reference | RowKey | Keeping


@dataclass(frozen=True)
class FieldInfo:
    """All that is known of one field. ``table`` and ``name`` are filled in when the table is made."""

    label: str
    kind: Kind
    help: str = ""
    arises: Arises | None = None
    needed: Stage | None = None
    identifying: bool = False
    source: str = "common practice"
    default: Any = None
    companion_of: str | None = None
    local: bool = False
    table: str = ""
    name: str = ""

    @property
    def required(self) -> bool:
        """A row cannot exist without this field."""
        return self.needed is Stage.ENTRY

    @property
    def encrypted(self) -> bool:
        """The stored bytes are ciphertext."""
        return isinstance(self.kind, Note | Secret)

    @property
    def analysed(self) -> bool:
        """The field may enter a snapshot: it neither identifies a person nor is free wording."""
        return not (self.identifying or self.encrypted or isinstance(self.kind, Keeping))

    @property
    def unit(self) -> str:
        """The unit of the stored value."""
        return getattr(self.kind, "unit", "")

    @property
    def typed_unit(self) -> str:
        """The unit in which a person types the value."""
        return getattr(self.kind, "typed_unit", "") or self.unit

    def typed(self, stored: float) -> float:
        """A stored number in the unit that people type."""
        return stored / self.kind.scale if isinstance(self.kind, Whole) and self.kind.scale != 1 else stored

    @property
    def limits(self) -> tuple[float | date | None, float | date | None]:
        """The hard limits, in the stored unit; None where there is none."""
        return getattr(self.kind, "low", None), getattr(self.kind, "high", None)


def column_type(kind: Kind) -> TypeEngine[Any]:
    """The column type that holds a kind of field."""
    match kind:
        case Code(list=codes):
            return types.CodeText(codes)
        case Whole() | Reference() | RowKey():
            return types.WholeNumber()
        case Number():
            return types.RealNumber()
        case Day():
            return types.CalendarDay()
        case Moment():
            return types.UtcMoment()
        case _:
            return types.PlainText()


def field(
    label: str,
    kind: Kind,
    *,
    help: str = "",
    arises: Arises | None = None,
    needed: Stage | None = None,
    identifying: bool = False,
    source: str = "common practice",
    default: Any = None,
    companion_of: str | None = None,
) -> MappedColumn[Any]:
    """Declare one field: a mapped column that carries its own description.

    Args:
        label: the words that stand beside it on a form or in a heading.
        kind: what sort of value it is, with unit, limits, plausible range or code list.
        help: one sentence for the person who types it.
        arises: at which point of the story the value comes into being.
        needed: the stage of a case by which it must be there; ``Stage.ENTRY`` makes it NOT NULL.
        identifying: it can tell who the patient is (secrets always do).
        source: the publication or standard the field follows.
        default: taken when a person leaves it blank.
        companion_of: the date whose precision this field holds.
    """
    info = FieldInfo(
        label=label,
        kind=kind,
        help=help,
        arises=arises,
        needed=needed,
        identifying=identifying or isinstance(kind, Secret),
        source=source,
        default=default,
        companion_of=companion_of,
    )
    targets = (ForeignKey(f"{kind.table}.id", ondelete="RESTRICT"),) if isinstance(kind, Reference) else ()
    return mapped_column(
        column_type(kind),
        *targets,
        nullable=not info.required,
        primary_key=isinstance(kind, RowKey),
        info={"field": info},
        **({"default": default} if default is not None else {}),
    )


def link(label: str, table: str, *, needed: Stage | None = Stage.ENTRY, **more: Any) -> MappedColumn[Any]:
    """Declare a link to a row of another table; NOT NULL unless ``needed=None``."""
    return field(label, Reference(table), needed=needed, **more)


def info_of(column: Column[Any]) -> FieldInfo:
    """The declaration of a column, with its table and name.

    Raises:
        KeyError: the column was not made by ``field``.
    """
    info: FieldInfo = column.info["field"]
    if info.table != column.table.name or info.name != column.name:  # a mixin's column stands in many tables
        info = column.info["field"] = replace(info, table=column.table.name, name=column.name)
    return info
