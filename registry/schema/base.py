"""What every table has in common, and what a table says of itself."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from sqlalchemy import MetaData, Table, UniqueConstraint
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr

from registry.schema.fields import Keeping, Moment, Reference, RowKey, Stage, Text, Whole, field

# Every constraint has a name by rule, so that a later revision can find and change it on both engines.
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_name)s",
    "uq": "uq_%(table_name)s_natural_key",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """The registry's tables. ``key_fields`` is the natural key: the fields by which people know a row."""

    metadata = MetaData(naming_convention=NAMING)

    __abstract__ = True
    label: ClassVar[str]
    about: ClassVar[str]
    key_fields: ClassVar[tuple[str, ...]] = ()
    # Clinical tables travel in workbooks and count in the record hash; the others are the office's own.
    clinical: ClassVar[bool] = True
    # Held apart: encrypted, a permission of its own, never in a snapshot or a clinical workbook.
    identity: ClassVar[bool] = False

    @declared_attr.directive
    def __tablename__(cls) -> str:
        return "".join("_" + c.lower() if c.isupper() else c for c in cls.__name__).lstrip("_")

    @declared_attr.directive
    def __table_args__(cls) -> tuple[Any, ...]:
        # Unique constraints are named by rule; strict typing is SQLite's, PostgreSQL needs no telling.
        unique = (UniqueConstraint(*cls.key_fields),) if cls.key_fields else ()
        return (*unique, {"sqlite_strict": True, "info": {"model": cls}})


class Row:
    """Who wrote a row, when, in which revision; why values are missing; what was typed in another unit."""

    id: Mapped[int] = field("Key", RowKey(), needed=Stage.ENTRY)
    created_at: Mapped[datetime] = field("Created at", Moment(), needed=Stage.ENTRY)
    created_by: Mapped[str] = field("Created by", Text(), needed=Stage.ENTRY)
    changed_at: Mapped[datetime] = field("Changed at", Moment(), needed=Stage.ENTRY)
    changed_by: Mapped[str] = field("Changed by", Text(), needed=Stage.ENTRY)
    revision: Mapped[int] = field("Revision", Whole(low=1), needed=Stage.ENTRY)
    batch_id: Mapped[int | None] = field("Batch", Reference("batch"))
    missing_reasons: Mapped[str | None] = field(
        "Reasons for missing values",
        Keeping(),
        help="field=reason pairs, by field name, for values that are missing for a stated reason",
    )
    as_typed: Mapped[str | None] = field(
        "As typed", Keeping(), help="field=wording pairs of values that were typed in another unit"
    )


KEEPING_FIELDS = frozenset(Row.__annotations__)


def model_of(table: Table) -> type[Base]:
    """The model that declares a table."""
    model: type[Base] = table.info["model"]
    return model
