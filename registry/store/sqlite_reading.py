"""Tables of an SQLite registry as Arrow: small ones by Python's own driver, large ones by the Arrow driver.

The Arrow driver brings an SQLite library of its own. Two such libraries in one process break each other's file
locks (closing a file drops every lock the process holds on it), and a commit was seen to be lost that way; so the
Arrow driver runs in a process of its own and hands its tables over through a pipe.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
from sqlalchemy import Connection

from registry.schema.errors import GravelbookError
from registry.store import arrow_process

_FIRST = {pa.int64(): "0", pa.float64(): "0.0"}
_EMPTY = "''"


class DriverSource:
    """Reads through an open transaction of Python's own driver."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def fetch(self, table: str, columns: Sequence[str], schema: pa.Schema) -> pa.Table:
        """The columns in the order of the rows' keys."""
        cursor: Any = self._connection.connection.cursor()
        try:
            rows = cursor.execute(f'SELECT {_listed(columns)} FROM "{table}" ORDER BY id').fetchall()
        finally:
            cursor.close()
        values = zip(*rows, strict=True) if rows else ([] for _ in columns)
        stored = [pa.array(v, _stored(t)) for v, t in zip(values, schema.types, strict=True)]
        return pa.Table.from_arrays(stored, names=list(columns)).cast(schema)


class ArrowProcess:
    """Reads through the Arrow driver in a process of its own, in one transaction."""

    def __init__(self, file: Path) -> None:
        script = Path(arrow_process.__file__)
        self._process = subprocess.Popen(
            [sys.executable, "-P", str(script), str(file.resolve())],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )

    def fetch(self, table: str, columns: Sequence[str], schema: pa.Schema) -> pa.Table:
        """The columns in the order of the rows' keys.

        A first row of known types goes before the table's own, because the driver takes the types from what it
        meets first; it is cut off again.
        """
        kinds = [_FIRST.get(kind, _EMPTY) for kind in schema.types]
        first = ", ".join(f'{kind} AS "{name}"' for name, kind in zip(columns, kinds, strict=True))
        # NOT INDEXED makes it go through the table itself, whose rows lie in the order of their keys.
        query = f'SELECT {first} UNION ALL SELECT {_listed(columns)} FROM "{table}" NOT INDEXED'
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        try:
            self._process.stdin.write(json.dumps(query).encode() + b"\n")
            self._process.stdin.flush()
            read = pa.ipc.open_stream(self._process.stdout).read_all()
        except (OSError, pa.ArrowInvalid) as fault:
            raise GravelbookError(f"The table {table} could not be read: {self._said()}") from fault
        read = read.slice(1).cast(schema)
        keys = read["id"]
        if read.num_rows > 1 and not pc.all(pc.less(keys[:-1], keys[1:])).as_py():
            read = read.sort_by("id")
        return read.combine_chunks()

    def __enter__(self) -> ArrowProcess:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._said()

    def _said(self) -> str:
        _, said = self._process.communicate()
        return " ".join(said.decode(errors="replace").split()[-40:])


def _listed(columns: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in columns)


def _stored(kind: pa.DataType) -> pa.DataType:
    return kind if kind in _FIRST else pa.string()
