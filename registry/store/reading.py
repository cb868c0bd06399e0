"""Whole tables, typed by their declarations: as Arrow for analysis, as pandas frames for rules and reports.

No type is ever guessed from the values. Reading needs no door and blocks no writer.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Protocol

import pyarrow as pa
from sqlalchemy import Table, func, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import Day, FieldInfo, Moment, Number, Reference, RowKey, Whole, info_of
from registry.schema.tables import metadata
from registry.store.cipher import Cipher, owner_of_text
from registry.store.history import BEGINNING, Head

if TYPE_CHECKING:
    import pandas as pd

    from registry.store.registry import Registry

LARGE = 50_000
"""From this many rows on an SQLite table is read by the Arrow driver in a process of its own."""


class Source(Protocol):
    """Gives columns of tables, all of one moment."""

    def fetch(self, table: str, columns: Sequence[str], schema: pa.Schema) -> pa.Table:
        """The columns in the order of the rows' keys; ``schema`` has their Arrow types."""


def arrow_type(info: FieldInfo) -> pa.DataType:
    """The Arrow type of a field: whole numbers int64, reals double, dates date32, moments in UTC, all else text."""
    match info.kind:
        case Whole() | Reference() | RowKey():
            return pa.int64()
        case Number():
            return pa.float64()
        case Day():
            return pa.date32()
        case Moment():
            return pa.timestamp("us", tz="UTC")
        case _:
            return pa.string()


class Reader:
    """Reads tables of one moment. Made by ``open_reader``."""

    def __init__(self, registry: Registry, source: Source) -> None:
        self._source = source
        self._cipher = Cipher(registry.keys, self._wrapped_keys)

    def arrow(
        self,
        table_name: str,
        columns: Iterable[str] | None = None,
        *,
        decrypt: bool = False,
        analysed_only: bool = True,
    ) -> pa.Table:
        """See ``read_arrow``."""
        infos = _infos(_table(table_name), columns, analysed_only=analysed_only)
        wanted = infos if any(info.name == "id" for info in infos) else [info_of(_table(table_name).c.id), *infos]
        schema = pa.schema([(info.name, arrow_type(info)) for info in wanted])
        read = self._source.fetch(table_name, schema.names, schema)
        if decrypt:
            for info in infos:
                if info.encrypted:
                    place = read.schema.get_field_index(info.name)
                    read = read.set_column(place, info.name, self._decrypted(info, read[info.name]))
        return read.select([info.name for info in infos])

    def frame(self, table_name: str, columns: Iterable[str] | None = None, *, decrypt: bool = False) -> pd.DataFrame:
        """See ``read_frame``."""
        import pandas as pd

        read = self.arrow(table_name, columns, decrypt=decrypt, analysed_only=False)
        types = {pa.int64(): pd.Int64Dtype(), pa.string(): pd.StringDtype()}
        frame: pd.DataFrame = read.to_pandas(types_mapper=types.get, date_as_object=False)
        days = [name for name in read.schema.names if read.schema.field(name).type == pa.date32()]
        return frame.astype(dict.fromkeys(days, "datetime64[s]"))

    def head(self) -> Head:
        """Length and last hash of the history at the moment that is read."""
        schema = pa.schema([("id", pa.int64()), ("entry_hash", pa.string())])
        last = self._source.fetch("change_history", schema.names, schema)
        return (last["id"][-1].as_py(), last["entry_hash"][-1].as_py()) if last.num_rows else (0, BEGINNING)

    def _decrypted(self, info: FieldInfo, sealed: pa.ChunkedArray) -> pa.Array:
        values = sealed.to_pylist()
        self._cipher.ready({owner_of_text(value) for value in values if value is not None})
        decrypt = self._cipher.decrypt
        clear = [None if value is None else decrypt(value, info.table, info.name) for value in values]
        return pa.array(clear, pa.string())

    def _wrapped_keys(self, owners: Collection[int] | None) -> Iterable[tuple[int, str | None]]:
        read = self.arrow("patient_key", ["patient_id", "wrapped_key"], analysed_only=False)
        return zip(read["patient_id"].to_pylist(), read["wrapped_key"].to_pylist(), strict=True)


@contextmanager
def open_reader(registry: Registry, tables: Iterable[str] | None = None, *, large: int = LARGE) -> Iterator[Reader]:
    """Read several tables of one moment.

    Args:
        registry: the open registry.
        tables: the tables that will be read, all when None; their size decides how.
        large: from how many rows on SQLite is read by the Arrow driver.
    """
    if registry.location.file is None:
        from registry.store.postgresql_reading import PostgresqlSource

        with registry.reading() as connection:
            yield Reader(registry, PostgresqlSource(connection))
        return
    from registry.store.sqlite_reading import ArrowProcess, DriverSource

    with registry.reading() as connection:
        names = metadata.tables if tables is None else tables
        # The highest key is found at once, a count is not.
        rows = sum(connection.execute(select(func.max(_table(name).c.id))).scalar() or 0 for name in names)
        if rows < large:
            yield Reader(registry, DriverSource(connection))
            return
    with ArrowProcess(registry.location.file) as source:
        yield Reader(registry, source)


def read_arrow(
    registry: Registry,
    table_name: str,
    columns: Iterable[str] | None = None,
    *,
    decrypt: bool = False,
    analysed_only: bool = True,
) -> pa.Table:
    """A table as Arrow, in the order of the rows' keys.

    Args:
        registry: the open registry.
        table_name: the table.
        columns: the columns, in this order; None takes all that ``analysed_only`` allows.
        decrypt: give encrypted columns in clear ("(erased)" where the patient was erased), else as ciphertext.
        analysed_only: without ``columns``, leave out what identifies a person, free wording and book-keeping text.

    Raises:
        GravelbookError: there is no such table or column.
    """
    with open_reader(registry, [table_name]) as reader:
        return reader.arrow(table_name, columns, decrypt=decrypt, analysed_only=analysed_only)


def read_frame(
    registry: Registry, table_name: str, columns: Iterable[str] | None = None, *, decrypt: bool = False
) -> pd.DataFrame:
    """A table as a pandas frame: Int64, float64, string, datetime64[s] for dates, moments in UTC.

    Args:
        registry: the open registry.
        table_name: the table.
        columns: the columns, in this order; None takes all.
        decrypt: give encrypted columns in clear, else as ciphertext.

    Raises:
        GravelbookError: there is no such table or column.
    """
    with open_reader(registry, [table_name]) as reader:
        return reader.frame(table_name, columns, decrypt=decrypt)


def _table(name: str) -> Table:
    if name not in metadata.tables:
        raise GravelbookError(f"There is no table {name}.")
    return metadata.tables[name]


def _infos(table: Table, columns: Iterable[str] | None, *, analysed_only: bool) -> list[FieldInfo]:
    if columns is None:
        return [info for c in table.columns if (info := info_of(c)).analysed or not analysed_only]
    wanted: list[Any] = list(columns)
    strange = [name for name in wanted if name not in table.columns]
    if strange:
        raise GravelbookError(f"The table {table.name} has no {', '.join(map(str, strange))}.")
    return [info_of(table.columns[name]) for name in wanted]
