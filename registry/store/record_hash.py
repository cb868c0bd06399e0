"""One hash over the clinical record: the same for the same record, whichever engine, order and keys it has."""

from __future__ import annotations

import hashlib
import json
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from registry.schema.base import model_of
from registry.schema.fields import Reference, info_of
from registry.schema.tables import clinical_tables, own_columns
from registry.store.reading import Reader, open_reader

if TYPE_CHECKING:
    from sqlalchemy import Table

    from registry.store.registry import Registry

_ALSO = ("missing_reasons", "as_typed")


def record_hash(registry: Registry) -> str:
    """The hash of all clinical tables (BLAKE2b, 64 hexadecimal digits).

    Rows are known by their natural keys, links by the natural key of what they lead to; notes count in clear. Keys,
    authors, times, revisions and batches do not count, reasons for missing values and wordings as typed do.
    """
    seal = hashlib.blake2b(digest_size=32)
    tables = clinical_tables()
    known: dict[str, dict[int, Any]] = {}
    with open_reader(registry, [table.name for table in tables]) as reader:
        for table in tables:
            rows = sorted(_rows(reader, table, known))
            seal.update(f"{table.name}:{len(rows)};".encode())
            for row in rows:
                seal.update(row)
    return seal.hexdigest()


def _rows(reader: Reader, table: Table, known: dict[str, dict[int, Any]]) -> list[bytes]:
    """A hash of each row; the natural keys of the rows are added to ``known``."""
    names = [c.name for c in own_columns(table)]
    read = reader.arrow(table.name, ["id", *names, *_ALSO], decrypt=True)
    columns = {name: read[name].to_pylist() for name in ("id", *names, *_ALSO)}
    for name in names:
        kind = info_of(table.columns[name]).kind
        if isinstance(kind, Reference):
            keys = known[kind.table]
            columns[name] = [None if value is None else keys[value] for value in columns[name]]
    key_fields = model_of(table).key_fields
    known[table.name] = dict(zip(columns["id"], zip(*(columns[name] for name in key_fields), strict=True), strict=True))
    hashed = (*names, *_ALSO)
    rows = zip(*(columns[name] for name in hashed), strict=True)
    return [_hash({n: v for n, v in zip(hashed, row, strict=True) if v is not None}) for row in rows]


def _hash(values: dict[str, Any]) -> bytes:
    text = json.dumps(values, sort_keys=True, separators=(",", ":"), default=_iso)
    return hashlib.blake2b(text.encode(), digest_size=32).digest()


def _iso(value: Any) -> str:
    if isinstance(value, datetime):
        return value.isoformat(timespec="microseconds")
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} cannot be hashed")
