"""What others wrote since a file was checked: whether the check still holds.

A load that were to begin anew whenever somebody saves one case would never end on a busy day.
"""

from __future__ import annotations

import json
from collections.abc import Set

from sqlalchemy import select

from registry.schema.fields import Reference, info_of
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata, patient_path
from registry.store.door import Door
from registry.store.history import HISTORY, Head

_MANY = 2000
_OF_EVERYONE = frozenset({"patient", "patient_identity", "hospital_number", "equipment_use"})
"""Rows of one patient that are held against those of all others: numbers, names, single-use pieces."""


def still_holds(door: Door, since: Head, patients: Set[int]) -> bool:
    """Nothing was written since that a check of new rows has read.

    Args:
        door: the transaction.
        since: the end of the history that the check was made on.
        patients: the held patients that the new rows belong to.

    Returns:
        True where single rows of other patients were entered or changed, and nothing else.
    """
    length, _ = door.chain.head
    if door.chain.head == since:
        return True
    if not since[0] <= length <= since[0] + _MANY:
        return False
    c = HISTORY.c
    entries = door.connection.execute(
        select(c.id, c.kind, c.about_table, c.about_row, c.before, c.entry_hash).where(c.id >= since[0]).order_by(c.id)
    ).all()
    if not entries or (entries[0].id, entries[0].entry_hash) != since:
        return False  # another history altogether: a backup was put back
    return all(
        entry.kind in (ChangeKind.INSERT, ChangeKind.UPDATE)
        and _is_elsewhere(door, entry.about_table, entry.about_row, entry.before, patients)
        for entry in entries[1:]
    )


def _is_elsewhere(door: Door, table: str, row: int, before: str | None, patients: Set[int]) -> bool:
    if table in ("patient_key", "question"):  # the one comes with its patient, the other is asked of what is there
        return True
    path = patient_path(table)
    if not path or table in _OF_EVERYONE or door.owners.of_row(table, row) in patients:
        return False
    if before is None:
        return True
    held = json.loads(before).get(path[0])
    kind = info_of(metadata.tables[table].columns[path[0]]).kind
    return held is not None and isinstance(kind, Reference) and door.owners.of_row(kind.table, held) not in patients
