"""What a batch has entered and changed, and what stands against withdrawing it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, and_, or_, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import Reference, info_of
from registry.schema.lists_outcome import BatchState, ChangeKind
from registry.schema.tables import metadata
from registry.store.batch_rows import BatchEntry, batch_entries, keys_in
from registry.store.field_history import changes_of
from registry.store.history import HISTORY, runs
from registry.store.values import writable

if TYPE_CHECKING:
    from registry.store.door import Door

_NAMED = 5
_RUNS = 50
Rows = dict[str, set[int]]


@dataclass(frozen=True)
class Own:
    """One of a batch's changes of rows that were there before it.

    Attributes:
        table: the row's table.
        row: its key.
        before: its image before the change.
        changed: it was changed; otherwise it was taken away.
    """

    table: str
    row: int
    before: Mapping[str, Any]
    changed: bool


def own_rows(connection: Connection, entry: BatchEntry) -> Rows:
    """The rows that a batch entered and that are there still.

    With them go its rows that wait for their case, and what is kept of undone merges of its patients.
    """
    found: Rows = {}
    for name, entered in entry.rows.items():
        table = metadata.tables[name]
        there = connection.execute(select(table.c.id).where(_within(table.c.id, entered))).scalars()
        found[name] = keys_in(entered).intersection(there)
    waiting = metadata.tables["waiting_row"]
    query = select(waiting.c.id).where(waiting.c.source_batch_id == entry.batch)
    found.setdefault("waiting_row", set()).update(connection.execute(query).scalars())
    merge, patients = metadata.tables["patient_merge"].c, found.get("patient", set())
    undone = select(merge.id, merge.kept_patient_id, merge.merged_patient_id).where(merge.undone_at.is_not(None))
    merges = {row.id for row in connection.execute(undone) if {row[1], row[2]} & patients}
    found.setdefault("patient_merge", set()).update(merges)
    return {name: rows for name, rows in found.items() if rows}


def own_changes(connection: Connection, entry: BatchEntry) -> list[Own]:
    """A batch's changes of older rows, in their order."""
    c = HISTORY.c
    query = select(c.kind, c.about_table, c.about_row, c.before).order_by(c.id)
    query = query.where(c.id > entry.entry, c.id <= entry.last)
    return [
        Own(found.about_table, found.about_row, json.loads(found.before), found.kind == ChangeKind.UPDATE)
        for found in connection.execute(query)
    ]


def check_withdrawal(
    door: Door, entry: BatchEntry, own: Rows, changes: Sequence[Own], *, with_corrections: bool
) -> None:
    """Refuse to withdraw a batch on which others' work rests.

    Args:
        door: the open writing transaction.
        entry: the batch.
        own: the rows that it entered.
        changes: its changes of older rows.
        with_corrections: rows that persons have corrected since may go.

    Raises:
        GravelbookError: names the batch, the record or the rows.
    """
    touched: Rows = {name: set(rows) for name, rows in own.items()}
    for change in changes:
        if change.changed:
            touched.setdefault(change.table, set()).add(change.row)
    _check_merges(door.connection, entry.batch, touched)
    _check_later_removals(door.connection, entry)
    corrected = _check_later_changes(door, entry, touched)
    _check_hanging(door.connection, entry.batch, own, changes)
    if corrected and not with_corrections:
        raise GravelbookError(
            f"Batch {entry.batch} was not withdrawn: persons have corrected rows of it since ({_named(corrected)}). "
            "Their corrections would be lost; to withdraw it all the same, add --with-corrections."
        )


def _check_merges(connection: Connection, batch: int, touched: Rows) -> None:
    merge = metadata.tables["patient_merge"].c
    query = select(merge.kept_patient_id, merge.merged_patient_id, merge.moved_rows).where(merge.undone_at.is_(None))
    for kept, merged, moved in connection.execute(query):
        if any(line[1] in touched.get(line[0], ()) for line in json.loads(moved or "[]")):
            raise GravelbookError(
                f"Batch {batch} was not withdrawn: the records of {_study(connection, kept)} and "
                f"{_study(connection, merged)} were merged since, and rows of the batch with them. Undo that first: "
                f"gravelbook intake merge {_study(connection, kept)} {_study(connection, merged)} --undo --reason TEXT"
            )


def _check_later_removals(connection: Connection, entry: BatchEntry) -> None:
    """A code of the batch that a later batch has taken away is that batch's to put back."""
    state = metadata.tables["batch"].c
    loaded = set(connection.execute(select(state.id).where(state.state == BatchState.LOADED)).scalars())
    for later in batch_entries(connection, rows=False):
        if later.entry <= entry.last or later.batch not in loaded or not later.followed_by:
            continue
        for change in own_changes(connection, later):
            entered = entry.rows.get(change.table, ())
            if not change.changed and any(first <= change.row <= last for first, last in entered):
                raise _amended_by(entry.batch, later.batch)


def _check_later_changes(door: Door, entry: BatchEntry, touched: Rows) -> list[tuple[str, int, str]]:
    """Refuse rows that a later batch has changed; give those that persons have, with who did."""
    corrected: list[tuple[str, int, str]] = []
    for name, rows in touched.items():
        if name in ("patient_key", "patient_merge", "waiting_row"):
            continue
        first: dict[int, dict[str, Any]] = {}
        last: dict[int, dict[str, Any]] = {}
        for _, row, before, after in changes_of(door.connection, name, rows, since=entry.last):
            first.setdefault(row, before)
            last[row] = after
        for row, after in last.items():
            batch = after.get("batch_id")
            if batch is not None and batch > entry.batch:
                raise _amended_by(entry.batch, batch)
            if _clear(door, name, first[row]) != _clear(door, name, after):
                corrected.append((name, row, f"by {after['changed_by']}"))
    return corrected


def _check_hanging(connection: Connection, batch: int, own: Rows, changes: Sequence[Own]) -> None:
    led: dict[tuple[str, int], Mapping[str, Any]] = {
        (change.table, change.row): change.before for change in changes
    }  # before the batch changed them
    hanging: list[tuple[str, int, str]] = []
    for child in metadata.sorted_tables:
        for column in child.columns:
            kind = info_of(column).kind
            if not isinstance(kind, Reference) or kind.table not in own or column.name == "batch_id":
                continue
            query = select(child.c.id, column, child.c.created_by).where(_within(column, runs(own[kind.table])))
            mine = own.get(child.name, ())
            for row, target, who in connection.execute(query):
                target = led[child.name, row].get(column.name) if (child.name, row) in led else target
                if target in own[kind.table] and row not in mine:
                    hanging.append((child.name, row, f"entered by {who}"))
    if hanging:
        raise GravelbookError(
            f"Batch {batch} was not withdrawn: rows that it did not bring hang on rows of it "
            f"({_named(sorted(set(hanging)))}). Withdraw those first, or the batch that brought them."
        )


def _within(column: Any, spans: list[list[int]]) -> Any:
    """A condition that is true at least for the keys of runs; of very many runs, for the keys between."""
    if len(spans) > _RUNS:
        spans = [[spans[0][0], spans[-1][1]]]
    return or_(*(and_(column >= first, column <= last) for first, last in spans))


def _clear(door: Door, name: str, image: Mapping[str, Any]) -> dict[str, Any]:
    """What an image says, decrypted: wording that was merely encrypted anew is the same wording."""
    table: Table = metadata.tables[name]
    said = {n: image.get(n) for n in writable(table)}
    for column in table.columns:
        if info_of(column).encrypted and said.get(column.name) is not None:
            said[column.name] = door.cipher.decrypt(str(said[column.name]), name, column.name)
    return said


def _amended_by(batch: int, later: int) -> GravelbookError:
    return GravelbookError(
        f"Batch {batch} was not withdrawn: batch {later} has changed rows of it since. Withdraw that one first: "
        f"gravelbook intake withdraw {later} --reason TEXT"
    )


def _named(rows: list[tuple[str, int, str]]) -> str:
    named = ", ".join(f"row {row} of {table} {who}" for table, row, who in rows[:_NAMED])
    return f"{named} and {len(rows) - _NAMED} more" if len(rows) > _NAMED else named


def _study(connection: Connection, patient: int) -> str:
    patients = metadata.tables["patient"].c
    return str(connection.execute(select(patients.study_number).where(patients.id == patient)).scalar())
