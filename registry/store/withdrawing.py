"""Withdraws a batch whole: the rows it entered go, the rows it changed are as before it, or nothing is done.

The hash of the file is freed with it: a batch is loaded once and withdrawn once, and the same file loaded again is
another batch, with a row of its own. So every number in a row's ``batch_id`` and in the history means one load for
ever. The row of the withdrawn batch keeps the beginning of the hash, and the history all of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sqlalchemy import Table, delete, select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import BatchState, ChangeKind
from registry.schema.tables import metadata, ordered_tables
from registry.store.batch_rows import BatchEntry, batch_entries
from registry.store.cipher import REGISTRY
from registry.store.history import Marks, runs
from registry.store.images import image
from registry.store.putting_back import put_back, restore
from registry.store.withdrawal_checks import check_withdrawal, own_changes, own_rows

if TYPE_CHECKING:
    from registry.store.door import Door

_ENTRY_ROWS = 5000
_HASH_KEPT = 40


@dataclass
class Withdrawn:
    """What became of a batch.

    Attributes:
        batch: its number.
        gone: rows that it had entered and that went, by table.
        taken_back: rows that it had changed and that are as before, by table.
    """

    batch: int
    gone: dict[str, int] = field(default_factory=dict)
    taken_back: dict[str, int] = field(default_factory=dict)


def withdraw_batch(door: Door, batch: int, *, with_corrections: bool = False) -> Withdrawn:
    """Withdraw a batch.

    The images of the rows stay in the history: one entry for up to 5,000 rows of a table holds a JSON list of them
    and names the highest key, which is never given again.

    Args:
        door: the open writing transaction, with a reason.
        batch: the batch.
        with_corrections: withdraw it although persons have corrected rows of it since.

    Raises:
        GravelbookError: there is no such batch, or it is withdrawn already; no reason is given; or something hangs on
            it, and what.
    """
    if not (door.reason or "").strip():
        raise GravelbookError("Withdrawing a batch needs a reason: say why with --reason TEXT.")
    entry = _entry(door, batch)
    own = own_rows(door.connection, entry)
    changes = own_changes(door.connection, entry)
    check_withdrawal(door, entry, own, changes, with_corrections=with_corrections)
    done = Withdrawn(batch)
    for change in reversed(changes):
        if (restore if change.changed else put_back)(door, change.table, change.before):
            done.taken_back[change.table] = done.taken_back.get(change.table, 0) + 1
    for table in reversed(ordered_tables()):
        rows = own.get(table.name)
        if rows:
            _take_away(door, table, rows)
            if table.name != "patient_key":
                done.gone[table.name] = len(rows)
    row = door.read(metadata.tables["batch"], batch)
    freed = f"withdrawn {batch}: {str(row['content_hash'])[:_HASH_KEPT]}"
    door.update("batch", batch, {"state": BatchState.WITHDRAWN, "content_hash": freed}, revision=int(row["revision"]))
    return done


def _entry(door: Door, batch: int) -> BatchEntry:
    table = metadata.tables["batch"]
    state = door.connection.execute(select(table.c.state).where(table.c.id == batch)).scalar()
    if state is None:
        raise GravelbookError(f"There is no batch {batch}. See which there are with: gravelbook intake batches")
    if state == BatchState.WITHDRAWN:
        raise GravelbookError(f"Batch {batch} was withdrawn already.")
    found = batch_entries(door.connection, [batch])
    if not found:
        raise GravelbookError(f"The history does not say what batch {batch} entered, so it cannot be withdrawn.")
    return found[0]


def _take_away(door: Door, table: Table, rows: set[int]) -> None:
    """Delete rows, with their images in the history."""
    keys = sorted(rows)
    if table.name == "patient":
        for row in keys:
            door.cipher.forget(row)
    for start in range(0, len(keys), _ENTRY_ROWS):
        part = keys[start : start + _ENTRY_ROWS]
        query = select(table).where(table.c.id.between(part[0], part[-1])).order_by(table.c.id)
        found = door.connection.execute(query).mappings()
        images = ",".join(image(table, dict(row)) for row in found if row["id"] in rows)
        for first, last in runs(part):
            door.execute(table, delete(table).where(table.c.id.between(first, last)))
        door.chain.append(
            ChangeKind.WITHDRAW,
            by=door.by,
            marks=Marks(gone={table.name: part}),
            about=(table.name, part[-1]),
            before=f"[{images}]",
            reason=door.sealed_reason(REGISTRY),
        )
    door.ids.retire(table.name, keys[-1])
