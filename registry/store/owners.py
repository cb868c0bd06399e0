"""Under whose key a row's identifying values and free wording are encrypted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import ColumnElement, Connection, FromClause, select

from registry.schema.fields import Reference, info_of
from registry.schema.tables import metadata, patient_path
from registry.store.cipher import REGISTRY, keyed_index
from registry.store.images import search_indexes
from registry.store.keys import Keys

_MANY = 500


class Owners:
    """Finds owners within one transaction and remembers them."""

    def __init__(self, connection: Connection, keys: Keys) -> None:
        self._connection = connection
        self._keys = keys
        self._known: dict[tuple[str, int], int] = {}

    def of_values(self, table: str, values: Mapping[str, Any]) -> int:
        """The owner of a row that is about to be written, from its plain values.

        A row with a path to a patient is that patient's. A question is its row's patient's; a theatre list line is
        the patient's of its operation, or whose hospital number it holds. All else is the registry's own.
        """
        path = patient_path(table)
        if path is not None:
            return self.of_row(_target(table, path[0]), int(values[path[0]]))
        if values.get("about_table") in metadata.tables and values.get("about_row") is not None:
            return self.of_row(str(values["about_table"]), int(values["about_row"]))
        if values.get("operation_id") is not None:
            return self.of_row("operation", int(values["operation_id"]))
        for column in search_indexes(metadata.tables[table]).values():
            if values.get(column) is not None:
                return self.of_number(str(values[column]))
        return REGISTRY

    def of_row(self, table: str, row: int) -> int:
        """The owner of a row that is there; the registry when the row or its patient is not."""
        if table == "patient":
            return row
        self.learn(table, [row])
        return self._known[table, row]

    def of_number(self, number: str) -> int:
        """The patient with a hospital number, at whichever site; the registry when no one or several have it."""
        numbers = metadata.tables["hospital_number"].c
        query = select(numbers.patient_id).where(numbers.number_index == keyed_index(self._keys, number)).distinct()
        found = self._connection.execute(query).scalars().all()
        return int(found[0]) if len(found) == 1 else REGISTRY

    def note(self, table: str, row: int, owner: int) -> None:
        """Remember the owner of a row that was just written."""
        self._known[table, row] = owner

    def forget(self) -> None:
        """Ask again from now on, after links were changed."""
        self._known.clear()

    def learn(self, table: str, rows: Iterable[int]) -> None:
        """Look up many rows at once."""
        wanted = sorted({row for row in rows if (table, row) not in self._known})
        for start in range(0, len(wanted), _MANY):
            part = wanted[start : start + _MANY]
            found = dict(self._patients(table, part)) if patient_path(table) is not None else {}
            for row in part:
                self._known[table, row] = found.get(row, REGISTRY)

    def of_batch(self, table: str, rows: Sequence[Mapping[str, Any]]) -> list[int]:
        """The owners of many rows about to be written; those of their parents are looked up together.

        The parents that are written in the same batch must have been noted before.
        """
        path = patient_path(table)
        if path == ():
            return [int(row["id"]) for row in rows]
        if path is None:
            return [self.of_values(table, row) for row in rows]
        if len(path) == 1 and _target(table, path[0]) == "patient":
            return [int(row[path[0]]) for row in rows]
        parent = _target(table, path[0])
        self.learn(parent, (int(row[path[0]]) for row in rows))
        return [self._known[parent, int(row[path[0]])] for row in rows]

    def _patients(self, table: str, rows: list[int]) -> list[tuple[int, int]]:
        source = metadata.tables[table]
        joined: FromClause = source
        here, patient = source, source.c.id
        for link in patient_path(table) or ():
            patient = here.c[link]
            target = metadata.tables[_target(here.name, link)]
            if target.name == "patient":
                break
            joined = joined.join(target, patient == target.c.id)
            here = target
        wanted: ColumnElement[bool] = source.c.id.in_(rows)
        query = select(source.c.id, patient).select_from(joined).where(wanted)
        return [(int(row), int(owner)) for row, owner in self._connection.execute(query)]


def _target(table: str, link: str) -> str:
    kind = info_of(metadata.tables[table].columns[link]).kind
    if not isinstance(kind, Reference):
        raise LookupError(f"{table}.{link} is not a link")
    return kind.table
