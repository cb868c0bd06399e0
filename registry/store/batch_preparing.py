"""What a batch needs before it is written: checked, numbered, encrypted, fingerprinted.

All of it only reads the registry. A long load does it before its turn to write comes, so that others wait for the
writing alone.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table

from registry.schema.errors import GravelbookError
from registry.schema.fields import info_of
from registry.schema.local_fields import VALUE, subject_of
from registry.schema.tables import metadata, ordered_tables, patient_path
from registry.store.batch_columns import Rows, columns_of, link_target
from registry.store.local_values import local_texts
from registry.store.signed_off import belongs_to_case, case_links, check_reason
from registry.store.values import check_names

if TYPE_CHECKING:
    from registry.store.door import Door


@dataclass
class PreparedTable:
    """Rows of one table, ready to be written.

    Attributes:
        table: the table.
        rows: the rows as they were given, to say which of them the database refused.
        columns: the columns that hold something, as they are stored.
        fixed: the book-keeping, the same in every row.
        marks: the key and the fingerprint of each row.
    """

    table: Table
    rows: Rows
    columns: dict[str, list[Any]]
    fixed: dict[str, Any]
    marks: list[tuple[int, bytes]]


@dataclass
class PreparedBatch:
    """The key of a batch, and what of its rows is ready; the other rows are prepared when they are written."""

    batch: int
    tables: dict[str, list[PreparedTable]] = field(default_factory=dict)


def prepare_batch(door: Door, tables: Mapping[str, Rows], *, early: bool = False) -> PreparedBatch:
    """Check the rows of a batch and, when it is early, prepare what can be prepared before anything is written.

    Args:
        door: the transaction that will write, or one that only reads.
        tables: rows by table, each with its final id.
        early: prepare the rows too; else each table's when it is written, which takes less memory.

    Raises:
        GravelbookError: as for ``Door.load_batch``.
    """
    for name, rows in tables.items():
        _check_rows(door, door.table(name), rows)
    _check_signed_off(door, tables)
    prepared = PreparedBatch(door.ids.take("batch"))
    if early:
        for table in ordered_tables():
            if tables.get(table.name) and _stands_alone(table, tables):
                prepared.tables[table.name] = prepare_table(door, table, tables, prepared.batch)
    return prepared


def prepare_table(door: Door, table: Table, tables: Mapping[str, Rows], batch: int) -> list[PreparedTable]:
    """Prepare the rows of one table; with those of patients, their keys.

    Args:
        door: the transaction.
        table: the table.
        tables: all rows of the batch; the tables above this one must be prepared before.
        batch: the key of the batch.
    """
    rows = tables[table.name]
    if subject_of(table.name) is not None:
        texts = local_texts(door.connection, table.name, rows)
        rows = [{**row, VALUE: text} for row, text in zip(rows, texts, strict=True)]
    made = [_prepared(door, table, rows, columns_of(door, table, rows, tables), batch)]
    if table.name == "patient":
        patients = [row["id"] for row in rows]
        keys = metadata.tables["patient_key"]
        first = door.ids.take(keys.name, len(patients))
        columns: dict[str, list[Any]] = {
            "id": list(range(first, first + len(patients))),
            "patient_id": patients,
            "wrapped_key": [door.new_keys.pop(patient) for patient in patients],
        }
        made.append(_prepared(door, keys, [], columns, batch))
    return made


def _prepared(door: Door, table: Table, rows: Rows, columns: dict[str, list[Any]], batch: int) -> PreparedTable:
    fixed = door.keeping(batch=batch)
    prints = door.fingerprints.of_new(table.name, columns, fixed)
    return PreparedTable(table, rows, columns, fixed, list(zip(columns["id"], prints, strict=True)))


def _stands_alone(table: Table, tables: Mapping[str, Rows]) -> bool:
    """Nothing that the rows need to be prepared is looked up among rows of the same batch."""
    if subject_of(table.name) is not None:
        return not tables.get("local_field")
    return patient_path(table.name) is not None or not any(info_of(c).encrypted for c in table.columns)


def _check_rows(door: Door, table: Table, rows: Rows) -> None:
    names = {name for row in rows for name in row}
    check_names(table, names - {"id"})
    ids = [row.get("id") for row in rows]
    if None in ids or len(set(ids)) != len(ids):
        raise GravelbookError(f"{table.name}: each row of a batch needs a key of its own from next_ids.")


def _check_signed_off(door: Door, tables: Mapping[str, Rows]) -> None:
    if door.reason:
        return
    new = {name: {row["id"] for row in rows} for name, rows in tables.items()}
    for name, rows in tables.items():
        if not belongs_to_case(name):
            continue
        source = metadata.tables[name]
        targets = {way[0]: str(link_target(source, way[0])) for way in case_links(name)}
        older = [
            row
            for row in rows
            if any(row.get(link) is not None and row[link] not in new.get(t, ()) for link, t in targets.items())
        ]
        check_reason(door.connection, name, [dict.fromkeys(targets) | row for row in older], door.reason)
