"""Tables of a PostgreSQL registry as Arrow: copied out as CSV by the server and read with the declared types."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import pyarrow as pa
import pyarrow.csv as csv
from sqlalchemy import Connection


class PostgresqlSource:
    """Reads through an open transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def fetch(self, table: str, columns: Sequence[str], schema: pa.Schema) -> pa.Table:
        """The columns in the order of the rows' keys."""
        listed = ", ".join(f'"{name}"' for name in columns)
        cursor: Any = self._connection.connection.cursor()
        text = io.BytesIO()
        try:
            with cursor.copy(f'COPY (SELECT {listed} FROM "{table}" ORDER BY id) TO STDOUT (FORMAT csv)') as copying:
                for part in copying:
                    text.write(part)
        finally:
            cursor.close()
        if not text.tell():
            return schema.empty_table()
        text.seek(0)
        return csv.read_csv(
            text,
            read_options=csv.ReadOptions(column_names=list(columns), block_size=1 << 24),
            parse_options=csv.ParseOptions(newlines_in_values=True),
            convert_options=csv.ConvertOptions(
                column_types=schema,
                # The server quotes an empty text and leaves a missing value blank.
                null_values=[""],
                strings_can_be_null=True,
                quoted_strings_can_be_null=False,
            ),
        )
