"""What two records of one patient say together: blanks are filled, what contradicts is named, numbers go on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from sqlalchemy import Table, func, select

from registry.schema.base import model_of
from registry.schema.fields import Note, Reference, Whole, info_of
from registry.schema.tables import metadata
from registry.store.field_history import pairs_in
from registry.store.values import WRITTEN_WITH_ROW, writable

if TYPE_CHECKING:
    from registry.store.door import Door

LATEST = {("patient", "last_known_alive_on"): ("last_known_alive_source",)}
"""Days of which the later one is right, with what belongs to the day: two such days do not contradict each other."""


def clear_row(door: Door, name: str, row: int) -> dict[str, Any]:
    """A row's own columns, decrypted, with its reasons and wordings."""
    return decrypted(door, name, door.read(metadata.tables[name], row))


def decrypted(door: Door, name: str, stored: Mapping[str, Any]) -> dict[str, Any]:
    """A stored row, or an image, with its own columns decrypted."""
    clear: dict[str, Any] = {}
    for column, info in writable(metadata.tables[name]).items():
        value = stored.get(column)
        clear[column] = door.cipher.decrypt(value, name, column) if info.encrypted and value else value
    return clear


def combined(name: str, kept: Mapping[str, Any], merged: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    """What the kept row takes over from the merged one, and the labels of the fields in which they contradict.

    Args:
        name: their table.
        kept: the row that stays, decrypted.
        merged: the row that goes, decrypted.
    """
    table = metadata.tables[name]
    taken: dict[str, Any] = {}
    against: list[str] = []
    pairs = {part: (pairs_in(kept[part]), pairs_in(merged[part])) for part in ("missing_reasons", "as_typed")}
    follow = {other for (of, _), others in LATEST.items() if of == name for other in others}
    for field, info in writable(table).items():
        alone = info.companion_of is None and field not in WRITTEN_WITH_ROW and field not in follow
        if (
            not alone
            or isinstance(info.kind, Reference)
            or field in model_of(table).key_fields
            or field == "study_number"
        ):
            continue
        group = (field, f"{field}_precision", *LATEST.get((name, field), ()))
        here, there = ([row.get(part) for part in group] for row in (kept, merged))
        if there[0] is None:
            reason = pairs["missing_reasons"][1].get(field)
            if here[0] is None and reason:
                pairs["missing_reasons"][0].setdefault(field, reason)
            continue
        if here == there:
            continue
        if here[0] is None or ((name, field) in LATEST and there[0] > here[0]):
            taken |= {part: value for part, value in zip(group, there, strict=True) if part in table.columns}
            pairs["missing_reasons"][0].pop(field, None)
            pairs["as_typed"][0].pop(field, None)
            if field in pairs["as_typed"][1]:
                pairs["as_typed"][0][field] = pairs["as_typed"][1][field]
        elif isinstance(info.kind, Note) and len(here[0]) + len(there[0]) < info.kind.longest:
            taken[field] = here[0] if there[0] in here[0] else f"{here[0]}\n{there[0]}"
        elif (name, field) not in LATEST:
            against.append(info.label.lower())
    for part, (own, _) in pairs.items():
        taken[part] = "".join(f"{field}={own[field]};" for field in sorted(own)) or None
    return {field: value for field, value in taken.items() if value != kept[field]}, against


def key_is_free(door: Door, table: Table, values: Mapping[str, Any], row: int) -> bool:
    """No other row of the table has this natural key."""
    same = [table.c[name] == values[name] for name in model_of(table).key_fields]
    return door.connection.execute(select(table.c.id).where(*same, table.c.id != row)).first() is None


def next_number(door: Door, table: Table, values: Mapping[str, Any]) -> dict[str, int] | None:
    """The next free number of the day, of the course and so on; None where the table's rows are not numbered."""
    keys = model_of(table).key_fields
    number = next((n for n in keys if isinstance(info_of(table.columns[n]).kind, Whole)), None)
    if number is None:
        return None
    same = [table.c[name] == values[name] for name in keys if name != number]
    highest = door.connection.execute(select(func.max(table.c[number])).where(*same)).scalar() or 0
    return {number: int(highest) + 1}
