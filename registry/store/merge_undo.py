"""Undoes a merge: both records are as they were, and what was entered since stays where it was entered."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from itertools import groupby
from typing import TYPE_CHECKING, Any

from sqlalchemy import or_, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import info_of
from registry.schema.tables import metadata
from registry.store.images import plain
from registry.store.merge_checks import check_no_crossing
from registry.store.merging import Line, check_records, study_of
from registry.store.putting_back import put_back

if TYPE_CHECKING:
    from registry.store.door import Door

_NAMED = 5


def undo_merge(door: Door, kept: int, merged: int) -> None:
    """Undo the merge of one patient's record into another's.

    Args:
        door: the open writing transaction, with a reason.
        kept: the patient whose record stayed.
        merged: the patient whose record was merged into it.

    Raises:
        GravelbookError: they are not merged; a later merge must be undone first; a value that the merge wrote was
            changed since; rows entered since hang on both records; or one of them was erased.
    """
    check_records(door, kept, merged)
    found = _merge(door, kept, merged)
    lines: list[Line] = json.loads(found["moved_rows"] or "[]")
    _check_unchanged(door, lines)
    for (name, row, taken), group in groupby(reversed(lines), key=lambda line: (line[0], line[1], line[2] == "")):
        part = list(group)
        table = metadata.tables[name]
        if taken:
            if not put_back(door, name, part[0][3]):
                raise GravelbookError(
                    f"Nothing was undone: row {row} of {name}, which the merge took away, cannot be put back, because "
                    "the same was entered since. Withdraw that, and undo the merge then."
                )
            door.owners.forget()
            continue
        stored = door.connection.execute(select(table.c.revision).where(table.c.id == row)).scalar()
        if stored is not None:  # a row that was withdrawn since stays so
            values = {line[2]: _clear(door, name, line[2], line[3]) for line in part}
            door.update(name, row, values, revision=int(stored))
    check_no_crossing(door, (kept, merged))
    door.update("patient_merge", found["id"], {"undone_at": datetime.now(UTC)}, revision=found["revision"])


def _merge(door: Door, kept: int, merged: int) -> Mapping[str, Any]:
    table = metadata.tables["patient_merge"]
    c = table.c
    undone = c.undone_at.is_(None)
    query = select(table).where(c.kept_patient_id == kept, c.merged_patient_id == merged, undone)
    found = door.connection.execute(query).mappings().one_or_none()
    if found is None:
        raise GravelbookError(f"{study_of(door, merged)} is not merged into {study_of(door, kept)}.")
    both = [kept, merged]
    later = select(c.kept_patient_id, c.merged_patient_id).where(
        c.id > found["id"], undone, or_(c.kept_patient_id.in_(both), c.merged_patient_id.in_(both))
    )
    for into, gone in door.connection.execute(later):
        raise GravelbookError(
            f"{study_of(door, gone)} was merged into {study_of(door, into)} since. Undo that first: gravelbook intake "
            f"merge {study_of(door, into)} {study_of(door, gone)} --undo --reason TEXT"
        )
    return dict(found)


def _check_unchanged(door: Door, lines: Sequence[Line]) -> None:
    """Refuse when a value that the merge wrote is another by now: what was corrected since would be lost."""
    last = {(name, row, column): new for name, row, column, _, new in lines if column}
    changed = []
    for (name, row, column), new in last.items():
        table = metadata.tables[name]
        found = door.connection.execute(select(table.c[column]).where(table.c.id == row)).one_or_none()
        if found is not None and _clear(door, name, column, plain(column, found[0])) != _clear(door, name, column, new):
            changed.append(f"{column} in row {row} of {name}")
    if changed:
        more = f" and {len(changed) - _NAMED} more" if len(changed) > _NAMED else ""
        raise GravelbookError(
            f"Nothing was undone: what the merge wrote was changed since ({', '.join(changed[:_NAMED])}{more}). Put it "
            "back as the merge left it, undo the merge, and make the change in the right record then."
        )


def _clear(door: Door, name: str, column: str, value: Any) -> Any:
    if value is not None and info_of(metadata.tables[name].columns[column]).encrypted:
        return door.cipher.decrypt(value, name, column)
    return value
