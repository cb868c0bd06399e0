"""What the registry holds of the patients of an extract: operations with their sides, and stays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from registry.intake.existing_rows import reasons_in, stored_rows
from registry.intake.known_keys import Key, KnownKeys
from registry.schema.fields import info_of
from registry.schema.tables import metadata

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass
class HeldOperation:
    """An operation that is held.

    Attributes:
        row: its key.
        operated_on: its day.
        day_number: its number of that day.
        stay: the admission that it belongs to.
        sides: the renal units that it treated, each with its number.
    """

    row: int
    operated_on: date
    day_number: int
    stay: int | None = None
    sides: list[tuple[str, int]] = field(default_factory=list)


@dataclass(frozen=True)
class HeldStay:
    """A stay in hospital that is held."""

    row: int
    admitted_on: date
    number: int
    discharged_on: date | None


class HeldCases:
    """Operations and stays of some patients of one site, and their other rows when they are asked for."""

    def __init__(self, registry: Registry, connection: Connection, site: str, studies: Iterable[str]) -> None:
        self._connection, self._site = connection, site
        self._known = KnownKeys(connection, studies)
        self._cipher = registry.cipher(connection)
        self._rows: dict[str, dict[Key, dict[str, Any]]] = {}
        self.operations: dict[str, list[HeldOperation]] = {}
        self.stays: dict[str, list[HeldStay]] = {}
        self.by_row: dict[int, HeldOperation] = {}
        self._read_operations()
        for key, row in self.rows("admission").items():
            _, study, admitted_on, number = key
            stay = HeldStay(row["id"], admitted_on, number, row["discharged_on"])
            self.stays.setdefault(study, []).append(stay)

    def rows(self, table: str) -> dict[Key, dict[str, Any]]:
        """The rows of a table by natural key, as they are stored; those of this site's patients."""
        found = self._rows.get(table)
        if found is None:
            keys = {row: key for key, row in self._known.of(table).items() if key[0] == self._site}
            stored = stored_rows(self._connection, metadata.tables[table], list(keys))
            found = self._rows[table] = {keys[row_id]: row for row_id, row in stored}
        return found

    def value(self, table: str, row: dict[str, Any], name: str) -> Any:
        """A value of a row, decrypted where it has to be; the reason why it is missing where the row gives one."""
        value = row[name]
        if value is None:
            return reasons_in(row["missing_reasons"]).get(name)
        if info_of(metadata.tables[table].columns[name]).encrypted:
            return self._cipher.decrypt(value, table, name)
        return value

    def _read_operations(self) -> None:
        by_key: dict[Key, HeldOperation] = {}
        for key, row in self.rows("operation").items():
            _, study, operated_on, day_number = key
            held = HeldOperation(row["id"], operated_on, day_number, row["admission_id"])
            by_key[key] = self.by_row[held.row] = held
            self.operations.setdefault(study, []).append(held)
        for site, study, operated_on, day_number, unit, unit_number in self._known.of("treated_side"):
            held_there = by_key.get((site, study, operated_on, day_number))
            if held_there is not None:
                held_there.sides.append((unit, unit_number))
