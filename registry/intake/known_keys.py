"""The rows that the registry holds already, by the natural keys by which people know them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Set
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, select

from registry.schema.base import model_of
from registry.schema.fields import Reference, info_of
from registry.schema.tables import links_of, metadata, patient_path

Key = tuple[Any, ...]
# Above this many values one read of the whole table is cheaper than asking for each.
FEW = 5000
_CHUNK = 500


class KnownKeys:
    """Natural keys of the registry's rows and the ids they belong to, read table by table when asked for.

    A natural key is the tuple of plain values that ``registry.schema.tables.natural_key`` lists: site, study number
    and so on. Only rows of the patients that matter are read, so that a small file costs little in a large registry.
    """

    def __init__(self, connection: Connection, study_numbers: Iterable[str] | None = None) -> None:
        """Start with the study numbers of the patients that matter; None for all."""
        self._connection = connection
        self._study_numbers = None if study_numbers is None else set(study_numbers)
        self._keys: dict[str, dict[Key, int]] = {}

    def of(self, table_name: str) -> dict[Key, int]:
        """The ids of a table's rows by natural key."""
        if table_name not in self._keys:
            self._keys[table_name] = self._read(metadata.tables[table_name])
        return self._keys[table_name]

    def patients(self, study_numbers: Set[str]) -> set[int]:
        """The ids of the patients with these study numbers, whatever their site."""
        return {row for key, row in self.of("patient").items() if key[-1] in study_numbers}

    def _read(self, table: Table) -> dict[Key, int]:
        names = model_of(table).key_fields
        links = links_of(table.name)
        parents = {
            name: {row_id: key for key, row_id in self.of(_target(table, name)).items()}
            for name in names
            if name in links
        }
        kept = {name: [n for n, part in enumerate(links[name]) if not part.shared] for name in parents}
        found: dict[Key, int] = {}
        for row in self._rows(table, names, parents):
            key: list[Any] = []
            for name, value in zip(names, row[1:], strict=True):
                if name in parents:
                    parent = parents[name].get(value)
                    if parent is None:
                        break
                    key += [parent[n] for n in kept[name]]
                else:
                    key.append(str(value) if isinstance(value, str) else value)
            else:
                found[tuple(key)] = row[0]
        return found

    def _rows(self, table: Table, names: tuple[str, ...], parents: dict[str, dict[int, Key]]) -> Iterator[Any]:
        columns = [table.c.id, *(table.c[name] for name in names)]
        narrow: ColumnElement[Any] | None = None
        wanted: list[Any] = []
        if self._study_numbers is None:
            pass
        elif table.name == "patient":
            narrow, wanted = table.c.study_number, sorted(self._study_numbers)
        elif (path := patient_path(table.name)) and path[0] in parents:
            narrow, wanted = table.c[path[0]], sorted(parents[path[0]])
        if narrow is None or len(wanted) > FEW:
            yield from self._connection.execute(select(*columns))
            return
        for start in range(0, len(wanted), _CHUNK):
            yield from self._connection.execute(select(*columns).where(narrow.in_(wanted[start : start + _CHUNK])))


def _target(table: Table, link: str) -> str:
    kind = info_of(table.columns[link]).kind
    assert isinstance(kind, Reference)
    return kind.table
