"""Finds links from one patient's rows to another's, which a merge or its undoing must not leave behind."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Any

from sqlalchemy import FromClause, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import Reference, info_of
from registry.schema.tables import metadata, patient_path

if TYPE_CHECKING:
    from registry.store.door import Door

_NAMED = 5


def check_no_crossing(door: Door, patients: Collection[int]) -> None:
    """Refuse when a row of one of the patients leads to a row of someone else.

    Raises:
        GravelbookError: names the rows.
    """
    door.owners.forget()
    crossing = []
    for table in metadata.sorted_tables:
        path = patient_path(table.name)
        links = _links(table.name)
        if not path or not links:
            continue
        for row in _rows(door, table.name, path, patients):
            for link, target in links.items():
                if row[link] is not None and door.owners.of_row(target, row[link]) != row["of_patient"]:
                    crossing.append(f"row {row['id']} of {table.name} by {link}, entered by {row['created_by']}")
    if crossing:
        more = f" and {len(crossing) - _NAMED} more" if len(crossing) > _NAMED else ""
        raise GravelbookError(
            "Nothing was changed: rows would lead from one patient to another "
            f"({'; '.join(crossing[:_NAMED])}{more}). They were entered or changed since the records were merged: "
            "withdraw them, or let them lead to the right rows, and try again."
        )


def _links(name: str) -> dict[str, str]:
    """The links of a table, other than the one by which it belongs to a patient, to rows that belong to one."""
    path = patient_path(name) or ()
    found = {}
    for column in metadata.tables[name].columns:
        kind = info_of(column).kind
        if isinstance(kind, Reference) and column.name not in path[:1] and patient_path(kind.table):
            found[column.name] = kind.table
    return found


def _rows(door: Door, name: str, path: tuple[str, ...], patients: Collection[int]) -> list[Any]:
    source = metadata.tables[name]
    joined: FromClause = source
    here, patient = source, source.c[path[0]]
    for link in path[:-1]:
        kind = info_of(here.columns[link]).kind
        assert isinstance(kind, Reference)
        target = metadata.tables[kind.table]
        joined = joined.join(target, here.c[link] == target.c.id)
        here = target
    patient = here.c[path[-1]]
    query = select(source, patient.label("of_patient")).select_from(joined).where(patient.in_(sorted(patients)))
    return list(door.connection.execute(query).mappings())
