"""How people know a row: by site, study number, date and side. Nothing in it names a person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from registry.schema.fields import Reference, info_of
from registry.schema.tables import KeyPart, metadata, natural_key

if TYPE_CHECKING:
    from registry.store.reading import Reader

PLAIN = ("site", "study_number", "unit")


class CaseNames:
    """Names rows of the tables of one moment."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._columns: dict[tuple[str, str], dict[int, Any]] = {}

    def of(self, table: str, rows: Sequence[int]) -> Iterator[str]:
        """The names of rows of a table: ``A, S0001, 2024-05-03, left``."""
        parts = [p for p in natural_key(table) if not (p.info.identifying or p.info.encrypted)]
        for row in rows:
            shown = [self._shown(table, part, row) for part in parts]
            yield ", ".join(text for text in shown if text) or f"row {row}"

    def _shown(self, table: str, part: KeyPart, row: int) -> str:
        key: Any = row
        for step in part.path:
            if key is None:
                return ""
            column = metadata.tables[table].columns[step]
            key = self._column(table, step).get(key)
            kind = info_of(column).kind
            if isinstance(kind, Reference):
                table = kind.table
        if key is None or (key == 1 and part.info.default == 1):
            return ""
        plain = part.heading in PLAIN or not isinstance(key, int | float)
        return str(key) if plain else f"{part.heading} {key}"

    def _column(self, table: str, column: str) -> dict[int, Any]:
        if (table, column) not in self._columns:
            read = self._reader.arrow(table, ["id", column], analysed_only=False)
            self._columns[table, column] = dict(zip(read["id"].to_pylist(), read[column].to_pylist(), strict=True))
        return self._columns[table, column]
