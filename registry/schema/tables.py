"""All tables, their CHECK constraints, their order and the natural keys by which people know a row."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import Column, MetaData, Table

from registry.schema import (  # noqa: F401  (importing a subject declares its tables)
    complications,
    equipment,
    imaging,
    laboratory,
    office,
    operations,
    people,
    sides,
    stones,
)
from registry.schema.base import KEEPING_FIELDS, Base, model_of
from registry.schema.checks import add_checks, add_indexes
from registry.schema.fields import FieldInfo, Reference, info_of

metadata: MetaData = Base.metadata
add_checks(metadata)
add_indexes(metadata)


def ordered_tables() -> list[Table]:
    """Every table, parents before children."""
    return list(metadata.sorted_tables)


def clinical_tables() -> list[Table]:
    """The tables that hold the clinical record and travel in workbooks, parents before children."""
    return [t for t in ordered_tables() if model_of(t).clinical]


def analysed_tables() -> list[Table]:
    """The tables that may enter a snapshot: the clinical ones, none of which names a person."""
    return [t for t in clinical_tables() if not model_of(t).identity]


def own_columns(table: Table) -> list[Column[Any]]:
    """A table's columns without the store's book-keeping (key, authors, times, revision, batch)."""
    return [c for c in table.columns if c.name not in KEEPING_FIELDS]


def fields_of(table: Table) -> list[FieldInfo]:
    """The declarations of a table's own columns, in order."""
    return [info_of(c) for c in own_columns(table)]


@dataclass(frozen=True)
class KeyPart:
    """One column by which people name a row: its heading, the links that lead to it, and the field itself.

    ``shared``: an earlier link or key field of the same sheet already has this heading, and means the same.
    """

    heading: str
    path: tuple[str, ...]
    info: FieldInfo
    shared: bool = False


@cache
def natural_key(table_name: str) -> tuple[KeyPart, ...]:
    """The natural key of a table, followed through its links down to plain fields.

    A treated side is known by site, study number, date and number of the operation, and renal unit.
    """
    links = links_of(table_name)
    parts: list[KeyPart] = []
    for name in model_of(metadata.tables[table_name]).key_fields:
        if name in links:
            parts += [part for part in links[name] if not part.shared]
        else:
            parts.append(_own_part(table_name, name))
    return tuple(parts)


@cache
def links_of(table_name: str) -> dict[str, tuple[KeyPart, ...]]:
    """The links of a table to others, each as the columns by which people name the row it leads to.

    Links of the natural key come first. Two links that lead to rows of one patient or one renal unit share
    those columns, so that they cannot contradict each other; a second link to the same table takes the name of
    the link before its own columns (``treating_operation.operated_on``).
    """
    table = metadata.tables[table_name]
    keys = model_of(table).key_fields
    names = [c.name for c in own_columns(table) if isinstance(info_of(c).kind, Reference)]
    taken = {_own_part(table_name, name).heading for name in keys if name not in names}
    reached: set[str] = set()
    found: dict[str, tuple[KeyPart, ...]] = {}
    for name in sorted(names, key=lambda n: (n not in keys, keys.index(n) if n in keys else names.index(n))):
        target = info_of(table.columns[name]).kind.table  # type: ignore[union-attr]
        parts = []
        for part in natural_key(target):
            again = target in reached and part.info.table == target
            heading_here = f"{name.removesuffix('_id')}.{part.heading}" if again else part.heading
            parts.append(KeyPart(heading_here, (name, *part.path), part.info, heading_here in taken))
        found[name] = tuple(parts)
        taken |= {part.heading for part in parts}
        reached |= {target, *_ancestors(target)}
    return found


def _own_part(table_name: str, name: str) -> KeyPart:
    return KeyPart(heading(table_name, name), (name,), info_of(metadata.tables[table_name].columns[name]))


@cache
def _ancestors(table_name: str) -> frozenset[str]:
    """The tables that a table's natural key leads through."""
    table = metadata.tables[table_name]
    parents: set[str] = set()
    for name in model_of(table).key_fields:
        kind = info_of(table.columns[name]).kind
        if isinstance(kind, Reference):
            parents |= {kind.table, *_ancestors(kind.table)}
    return frozenset(parents)


# Two tables call their own key by a plain word that needs its subject when it stands in another sheet.
_HEADINGS = {("site", "code"): "site", ("operator", "code"): "operator"}


def heading(table_name: str, field_name: str) -> str:
    """The word that heads a field's column in a workbook."""
    return _HEADINGS.get((table_name, field_name), field_name)


def patient_path(table_name: str) -> tuple[str, ...] | None:
    """The links that lead from a row to its patient's row: () for the patient itself, None when there is none."""
    if table_name == "patient":
        return ()
    table = metadata.tables[table_name]
    for name in model_of(table).key_fields:
        kind = info_of(table.columns[name]).kind
        if isinstance(kind, Reference):
            further = patient_path(kind.table)
            if further is not None:
                return (name, *further)
    return ("patient_id",) if "patient_id" in table.columns else None
