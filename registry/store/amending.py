"""A later version of a file: its new rows and its changes of older ones, written as one batch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from registry.schema.errors import GravelbookError
from registry.store import batch_loading
from registry.store.batch_preparing import PreparedBatch
from registry.store.door import Door


@dataclass(frozen=True)
class RowChange:
    """New values of one row that is there; ``values`` None takes the row away."""

    table: str
    row: int
    values: Mapping[str, Any] | None


def load_amended(
    door: Door,
    *,
    file_hash: str,
    file_name: str | None,
    tables: Mapping[str, list[dict[str, Any]]],
    source: str,
    changes: Sequence[RowChange],
    written: Callable[[int], None] | None = None,
    prepared: PreparedBatch | None = None,
) -> int:
    """Enter the new rows of a file as ``Door.load_batch`` does, then change older ones, each with an entry of its own.

    The changed rows carry the number of the batch from then on, by which the history tells its changes from persons'.

    Args:
        door: the open writing transaction.
        file_hash: hash of the file.
        file_name: its name, kept encrypted.
        tables: new rows by table.
        source: the log that the file is a version of.
        changes: what becomes of older rows; every change must differ from what stands there.
        written: told how many rows were written so far.
        prepared: what was prepared of the new rows, on a registry that has not changed since.

    Returns:
        The key of the batch.

    Raises:
        GravelbookError: the door refuses a row; nothing is written then.
    """
    batch = batch_loading.load_batch(
        door,
        file_hash=file_hash,
        file_name=file_name,
        tables=tables,
        source=source,
        written=written,
        changes=len(changes),
        prepared=prepared,
    )
    expected = door.chain.head[0] + len(changes)
    done = sum(map(len, tables.values()))
    for number, change in enumerate(changes, start=1):
        if change.values is None:
            door.withdraw(change.table, change.row)
        else:
            revision = int(door.read(door.table(change.table), change.row)["revision"])
            door.update(change.table, change.row, change.values, revision=revision, batch=batch)
        if written is not None and number % 500 == 0:
            written(done + number)
    if door.chain.head[0] != expected:  # the batch could not be told from what others do after it
        raise GravelbookError("A change of the file changes nothing, so that nothing of the file was written.")
    if written is not None and changes:
        written(done + len(changes))
    return batch
