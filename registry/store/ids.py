"""Keys of new rows: the next free ones. The key of a withdrawn row is never given again."""

from __future__ import annotations

from sqlalchemy import Connection, func, select

from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata
from registry.store.history import HISTORY, head


class WithdrawnKeys:
    """The highest withdrawn key of each table, kept for as long as the registry is open.

    Only the part of the history that is new since the last transaction is read.
    """

    def __init__(self) -> None:
        self._seen = 0
        self._highest: dict[str, int] = {}

    def highest(self, connection: Connection) -> dict[str, int]:
        """By table, from a transaction that has not written to the history yet."""
        length, _ = head(connection)
        if length > self._seen:
            c = HISTORY.c
            query = (
                select(c.about_table, func.max(c.about_row))
                .where(c.id > self._seen, c.kind == ChangeKind.WITHDRAW)
                .group_by(c.about_table)
            )
            for table, row in connection.execute(query):
                self._highest[table] = max(row, self._highest.get(table, 0))
            self._seen = length
        return dict(self._highest)


class NextIds:
    """Gives out keys within one writing transaction."""

    def __init__(self, connection: Connection, withdrawn: WithdrawnKeys) -> None:
        self._connection = connection
        self._withdrawn = withdrawn.highest(connection)
        self._next: dict[str, int] = {}

    def take(self, table: str, count: int = 1) -> int:
        """The first of ``count`` consecutive free keys."""
        if table not in self._next:
            highest = self._connection.execute(select(func.max(metadata.tables[table].c.id))).scalar() or 0
            self._next[table] = max(highest, self._withdrawn.get(table, 0)) + 1
        first = self._next[table]
        self._next[table] = first + count
        return first

    def retire(self, table: str, row: int) -> None:
        """Never give a key again whose row is withdrawn in this transaction."""
        self._withdrawn[table] = max(row, self._withdrawn.get(table, 0))
