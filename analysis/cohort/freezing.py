"""Freezing a registry: its analysed tables as Parquet files with a manifest, all of one moment."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

import pyarrow as pa

from analysis.cohort.layout import arrow_schema, frozen_columns, frozen_tables, layout_hash
from analysis.cohort.manifest import FILE_NAME, FrozenFile, Manifest, RegistryState, described
from analysis.cohort.parquet import digest, write_table
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from registry.store.registry import Registry

# How often freezing begins again because somebody wrote just then.
ATTEMPTS = 5

TableReader = Callable[[str], pa.Table]


def state_of(registry: Registry) -> RegistryState:
    """Where the registry stands: revision of its shape, length and head of its history, time of the last entry."""
    from sqlalchemy import select

    from registry.schema.tables import metadata
    from registry.store.history import head
    from registry.store.revisions import revision_of

    history = metadata.tables["change_history"]
    with registry.reading() as connection:
        length, last_hash = head(connection)
        last = connection.execute(select(history.c.at).order_by(history.c.id.desc()).limit(1)).scalar()
        return RegistryState(
            schema_revision=str(revision_of(connection)),
            history_length=length,
            history_head=last_hash,
            last_change_at=None if last is None else last.isoformat(timespec="microseconds"),
            layout=layout_hash(),
        )


def freeze_registry(registry: Registry, folder: Path) -> Manifest:
    """Freeze the registry's tables into a folder, all read in one transaction.

    Raises:
        GravelbookError: others wrote again and again between the look at the history and that transaction.
    """
    from registry.store.reading import open_reader

    for _ in range(ATTEMPTS):
        state = state_of(registry)
        with open_reader(registry, frozen_tables()) as reader:
            if reader.head() == (state.history_length, state.history_head):
                return freeze(state, lambda name: reader.arrow(name, frozen_columns(name)), folder)
    raise GravelbookError(
        f"The registry was written to each of the {ATTEMPTS} times a snapshot of it was begun. Try again when what is "
        "being written has ended."
    )


def freeze(state: RegistryState, read: TableReader, folder: Path) -> Manifest:
    """Write every analysed table and the manifest into a folder.

    Args:
        state: the registry's state that the tables are of.
        read: gives a table by name; columns beyond the frozen ones are dropped.
        folder: where the files go; what it holds already is written over.
    """
    # One table is written while the next is read.
    with ThreadPoolExecutor(max_workers=1) as writer:
        written = {name: writer.submit(_write, name, read(name), folder) for name in frozen_tables()}
    manifest = described(state, {name: file.result() for name, file in written.items()})
    (folder / FILE_NAME).write_text(manifest.as_json(), encoding="utf-8")
    (folder / FILE_NAME).chmod(0o600)
    return manifest


def _write(table_name: str, read: pa.Table, folder: Path) -> FrozenFile:
    table, path = in_layout(table_name, read), folder / f"{table_name}.parquet"
    write_table(table, path)
    return FrozenFile(file=path.name, rows=table.num_rows, sha256=digest(path))


def in_layout(table_name: str, table: pa.Table) -> pa.Table:
    """A table with the frozen columns alone, in their declared order and types, its rows by key."""
    schema = arrow_schema(table_name)
    ordered = table.select(schema.names).cast(schema)
    keys = ordered.column("id").to_numpy()
    if len(keys) > 1 and not (keys[1:] > keys[:-1]).all():
        ordered = ordered.sort_by("id")
    return ordered
