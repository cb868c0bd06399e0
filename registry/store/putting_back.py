"""Puts a row back as an image in the history has it: over what stands there, or again under its own key."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table, insert, select

from registry.schema.base import model_of
from registry.schema.fields import Moment, info_of
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata
from registry.store.cipher import ERASED, keyed_index
from registry.store.history import Marks
from registry.store.images import image, search_indexes
from registry.store.values import stored_value, writable

if TYPE_CHECKING:
    from registry.store.door import Door

_OF_THE_ROW = frozenset({"id", "created_at", "created_by", "changed_at", "changed_by", "revision"})


def restore(door: Door, name: str, before: Mapping[str, Any]) -> bool:
    """Put the image of a row back over what stands there; its revision goes on.

    Args:
        door: the open writing transaction.
        name: the table.
        before: the image.

    Returns:
        False where there is no such row any more.
    """
    table = metadata.tables[name]
    found = door.connection.execute(select(table).where(table.c.id == before["id"])).mappings().one_or_none()
    if found is None:
        return False
    stored = {n: value for n, value in _stored(door, table, before).items() if n not in _OF_THE_ROW}
    door.change(table, dict(found), stored, door.owners.of_row(name, int(before["id"])), ChangeKind.UPDATE)
    return True


def put_back(door: Door, name: str, before: Mapping[str, Any]) -> bool:
    """Enter a withdrawn row again under its own key, as its image has it.

    Args:
        door: the open writing transaction.
        name: the table.
        before: the image.

    Returns:
        False where someone has entered the same meanwhile, or what it belonged to is gone.
    """
    table = metadata.tables[name]
    stored = _stored(door, table, before)
    same = [table.c[key] == stored[key] for key in model_of(table).key_fields]
    if door.connection.execute(select(table.c.id).where(*same)).first() is not None:
        return False
    for column in table.columns:
        for link in column.foreign_keys:
            value = stored[column.name]
            target = link.column.table
            query = select(target.c.id).where(target.c.id == value)
            if value is not None and door.connection.execute(query).first() is None:
                return False
    door.execute(table, insert(table).values(stored), stored)
    row = int(before["id"])
    marks = Marks({name: [(row, door.fingerprints.of_row(name, row))]})
    owner = door.owners.of_row(name, row)
    after = image(table, door.read(table, row))
    reason = door.sealed_reason(owner)
    door.chain.append(ChangeKind.INSERT, by=door.by, marks=marks, about=(name, row), after=after, reason=reason)
    return True


def _stored(door: Door, table: Table, before: Mapping[str, Any]) -> dict[str, Any]:
    """An image as the columns take it, with the keyed indexes that images leave out."""
    infos = writable(table)
    stored: dict[str, Any] = {}
    for column in table.columns:
        value = before.get(column.name)
        info = info_of(column)
        if value is not None and column.name in infos and not info.encrypted:
            value = stored_value(infos[column.name], value)
        elif value is not None and isinstance(info.kind, Moment):
            value = stored_value(info, value)
        stored[column.name] = value
    for index, number in search_indexes(table).items():
        sealed = stored[number]
        clear = None if sealed is None else door.cipher.decrypt(sealed, table.name, number)
        stored[index] = None if clear in (None, ERASED) else keyed_index(door.keys, str(clear))
    return stored
