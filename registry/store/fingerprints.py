"""A fingerprint of every row, from which any later change of the row can be told.

The fingerprint is a keyed BLAKE2b hash of 16 bytes over the table's name and the row's values as they are stored,
each with its column's name, in the order of the names. A missing value leaves no trace, so that a nullable column
added later changes nothing. The text that is hashed is made by the database, the same on both engines, because a
million rows are fetched faster as one text each than as thirty values; real numbers alone are written here, since
only Python writes a double in its shortest exact form everywhere.

Keyed search indexes are left out: they are checked against the number they stand for, and must leave no trace when
a patient's identity is erased.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import repeat
from typing import Any

from sqlalchemy import Connection

from registry.store.keys import Keys

SIZE = 16
"""Bytes of a fingerprint."""

UNSEALED = frozenset({"change_history", "alembic_version"})
"""Tables without fingerprints: the history seals itself."""

_UNIT, _RECORD = "\x1f", "\x1e"
_FETCHED = 5000
_ARGUMENTS = 60  # functions take at most 100 arguments on either engine


@dataclass(frozen=True)
class _Plan:
    """How the rows of one table are read: the query, its real-number columns, how many values the text counts.

    others: all other columns, in order.
    """

    query: str
    reals: tuple[str, ...]
    counted: int | None
    others: tuple[str, ...]


class Fingerprints:
    """Computes fingerprints through one connection; the table's shape is read from the database itself.

    So it holds for a table in an older shape too, which is what a migration needs.
    """

    def __init__(self, connection: Connection, keys: Keys) -> None:
        self._connection = connection
        self._seal = keys.seal
        self._plans: dict[str, _Plan] = {}

    def of_range(self, table: str, first: int, last: int) -> Iterator[tuple[int, bytes]]:
        """(key, fingerprint) of the rows with keys from ``first`` to ``last``, by key."""
        plan = self._plans.get(table) or self._plans.setdefault(table, self._plan(table))
        query = f"{plan.query} WHERE id BETWEEN {int(first)} AND {int(last)} ORDER BY id"
        yield from self._rows(table, plan, query, few=last - first < _FETCHED)

    def of_new(self, table: str, columns: Mapping[str, Sequence[Any]], fixed: Mapping[str, Any]) -> list[bytes]:
        """The fingerprints of rows that are about to be written.

        Args:
            table: the table.
            columns: by name, the values as they will be stored, one a row; ``id`` among them. Days and moments may be
                objects or the text that SQLite keeps.
            fixed: columns with the same value in all rows.
        """
        plan = self._plans.get(table) or self._plans.setdefault(table, self._plan(table))
        count = len(columns["id"])
        parts: list[Iterable[str | None]] = []
        for name in plan.others:
            if name in columns:
                parts.append(_pieces(f"{name}=", columns[name], _quoted))
            elif fixed.get(name) is not None:
                parts.append(repeat(f"{name}={_quoted(fixed[name])}", count))
        texts = [_UNIT.join(filter(None, row)) for row in zip(*parts, strict=True)]
        for name in plan.reals:
            if name in columns:
                pieces = _pieces(f"{_RECORD}{name}=", columns[name], repr)
                texts = [text + piece if piece else text for text, piece in zip(texts, pieces, strict=True)]
        start = hashlib.blake2b(table.encode() + b"\x00", key=self._seal, digest_size=SIZE)
        prints = []
        for text in texts:
            seal = start.copy()
            seal.update(text.encode("utf-8", "surrogatepass"))
            prints.append(seal.digest())
        return prints

    def of_row(self, table: str, row: int) -> bytes:
        """The fingerprint of one row.

        Raises:
            LookupError: there is no such row.
        """
        for _, found in self.of_range(table, row, row):
            return found
        raise LookupError(f"{table} has no row {row}")

    def of_table(self, table: str) -> Iterator[tuple[int, bytes]]:
        """(key, fingerprint) of all rows of a table, by key."""
        plan = self._plans.get(table) or self._plans.setdefault(table, self._plan(table))
        yield from self._rows(table, plan, f"{plan.query} ORDER BY id")

    def tables(self) -> list[str]:
        """The tables with fingerprints that the database holds, by name."""
        if self._connection.dialect.name == "sqlite":
            query = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
        else:
            query = "SELECT tablename FROM pg_tables WHERE schemaname = current_schema()"
        names = self._connection.exec_driver_sql(query).scalars()
        return sorted(n for n in names if n not in UNSEALED and not n.startswith(("parked_", "_alembic_tmp_")))

    def _rows(self, table: str, plan: _Plan, query: str, *, few: bool = False) -> Iterator[tuple[int, bytes]]:
        reals, counted = plan.reals, plan.counted
        start = hashlib.blake2b(table.encode() + b"\x00", key=self._seal, digest_size=SIZE)
        for values in _stream(self._connection, query, few=few):
            key, text, count = values[0], values[1], values[2]
            parts = text.split(_UNIT)
            # A separator inside a value can only have been smuggled in past the door; it must not pass for another
            # row's text, so such a row is hashed in a form no proper row has.
            if len(parts) != (count if counted is None else counted):
                text = "!" + text
            elif counted is not None:
                text = _UNIT.join([p for p in parts if p[-1] != "L"])
            for name, value in zip(reals, values[3:], strict=True):
                if value is not None:
                    text += f"{_RECORD}{name}={value!r}"
            seal = start.copy()
            seal.update(text.encode("utf-8", "surrogatepass"))
            yield key, seal.digest()

    def _plan(self, table: str) -> _Plan:
        shape = _shape(self._connection, table)
        names = sorted(name for name in shape if not _is_search_index(name, shape))
        reals = tuple(name for name in names if shape[name] == "real")
        others = [name for name in names if shape[name] != "real"]
        groups = [others[i : i + _ARGUMENTS] for i in range(0, len(others), _ARGUMENTS)]
        more = "".join(f', "{name}"' for name in reals)
        if self._connection.dialect.name == "sqlite":
            # %Q writes NULL or a quoted text with its quotes doubled.
            made = "||char(31)||".join(
                "printf('{}',{})".format(_UNIT.join(f"{n}=%Q" for n in g), ",".join(f'"{n}"' for n in g))
                for g in groups
            )
            return _Plan(f'SELECT id, {made}, 0{more} FROM "{table}"', reals, len(others), tuple(others))
        made = ",".join("concat_ws(chr(31),{})".format(",".join(_pg_text(n, shape[n]) for n in g)) for g in groups)
        count = "+".join("num_nonnulls({})".format(",".join(f'"{n}"' for n in g)) for g in groups)
        return _Plan(f'SELECT id, concat_ws(chr(31),{made}), {count}{more} FROM "{table}"', reals, None, tuple(others))


def content_hash(fingerprints: Fingerprints, table: str) -> str:
    """One hash over a whole table: its rows' keys and fingerprints, by key."""
    seal = hashlib.blake2b(digest_size=32)
    for key, found in fingerprints.of_table(table):
        seal.update(key.to_bytes(8) + found)
    return seal.hexdigest()


def registry_hash(fingerprints: Fingerprints) -> str:
    """One hash over all rows of all tables, apart from the history."""
    seal = hashlib.blake2b(digest_size=32)
    for table in fingerprints.tables():
        seal.update(f"{table}={content_hash(fingerprints, table)};".encode())
    return seal.hexdigest()


def _pieces(start: str, column: Sequence[Any], written: Callable[[Any], str]) -> Iterator[str | None]:
    """What each value of a column adds to its row's text; every distinct value is written once."""
    pieces: dict[Any, str | None] = {value: start + written(value) for value in set(column) if value is not None}
    pieces[None] = None
    return map(pieces.__getitem__, column)


def _quoted(value: Any) -> str:
    """A value as the database writes it (``_plan``)."""
    if isinstance(value, datetime):
        return f"'{value.astimezone(UTC).isoformat(timespec='microseconds')}'"
    return "'" + str(value).replace("'", "''") + "'"


def _is_search_index(name: str, shape: dict[str, str]) -> bool:
    return name.endswith("_index") and name.removesuffix("_index") in shape


def _pg_text(name: str, kind: str) -> str:
    text = {
        "text": f"replace(\"{name}\",'''','''''')",
        "whole": f'"{name}"::text',
        "day": f"to_char(\"{name}\",'YYYY-MM-DD')",
        "moment": f'to_char("{name}" AT TIME ZONE \'UTC\',\'YYYY-MM-DD"T"HH24:MI:SS.US"+00:00"\')',
    }[kind]
    return f"'{name}='''||{text}||''''"


def _shape(connection: Connection, table: str) -> dict[str, str]:
    """Column names with their kind: text, whole, real, day, moment."""
    if connection.dialect.name == "sqlite":
        kinds = {"TEXT": "text", "INTEGER": "whole", "REAL": "real"}
        return {row[1]: kinds[row[2]] for row in connection.exec_driver_sql(f'PRAGMA table_info("{table}")')}
    kinds = {
        "text": "text",
        "bigint": "whole",
        "double precision": "real",
        "date": "day",
        "timestamp with time zone": "moment",
    }
    query = (
        "SELECT attname, format_type(atttypid, NULL) FROM pg_attribute "
        f"WHERE attrelid = '\"{table}\"'::regclass AND attnum > 0 AND NOT attisdropped"
    )
    return {name: kinds[kind] for name, kind in connection.exec_driver_sql(query)}


def _stream(connection: Connection, query: str, *, few: bool) -> Iterator[Any]:
    """Rows of a query through the driver's own cursor, a few thousand at a time."""
    driver = connection.connection.dbapi_connection
    if driver is None:
        raise RuntimeError("the connection is closed")
    # Without a name the PostgreSQL driver would fetch everything at once; with one it asks three times.
    named = connection.dialect.name == "postgresql" and not few
    cursor: Any = driver.cursor(name="gravelbook_fingerprints") if named else driver.cursor()
    try:
        cursor.execute(query)
        while rows := cursor.fetchmany(_FETCHED):
            yield from rows
    finally:
        cursor.close()
