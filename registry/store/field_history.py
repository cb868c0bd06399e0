"""Who gave each field of a row its present value: a batch of a source, or a person. Read off the change history.

A batch that changes a row puts its own number into the row's ``batch_id``; a person's change leaves it alone. Numbers
of batches only grow, so an entry that puts an older number back, or none, takes a batch's change away again.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from enum import Enum
from typing import Any

from sqlalchemy import Connection, select

from registry.schema.fields import info_of
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata
from registry.store.cipher import Cipher
from registry.store.history import HISTORY
from registry.store.images import plain

FIRST_SOURCE = "workbook"
"""The source of batches from before sources were recorded: there was no other then."""

Image = Mapping[str, Any]
State = tuple[Any, str, str | None]
"""A field as a row holds it: plain value, precision, the reason why it is missing."""

_CHUNK = 500


class Change(Enum):
    """What an entry about one row was."""

    CORRECTED = "by a person"
    AMENDED = "by a batch"
    TAKEN_BACK = "a batch's amendment taken back"


def change_of(before: Image, after: Image) -> tuple[Change, int | None]:
    """What a change was, and the batch that made it or whose change it takes back."""
    was, now = before.get("batch_id"), after.get("batch_id")
    if was == now:
        return Change.CORRECTED, None
    if now is not None and (was is None or now > was):
        return Change.AMENDED, int(now)
    return Change.TAKEN_BACK, None if was is None else int(was)


@dataclass
class RowStory:
    """The fields asked about, of one row.

    Attributes:
        writer: by field, the batch that wrote the present value; None for a person.
        said: by source and field, what the source last wrote.
        filled: the fields that held something at any time.
    """

    writer: dict[str, int | None] = field(default_factory=dict)
    said: dict[str, dict[str, State]] = field(default_factory=dict)
    filled: set[str] = field(default_factory=set)


def pairs_in(pairs: str | None) -> dict[str, str]:
    """The pairs of ``field=wording;field=wording;`` by field."""
    return dict(pair.split("=", 1) for pair in (pairs or "").split(";") if pair)


class FieldHistory:
    """Tells the stories of rows through one connection."""

    def __init__(self, connection: Connection, cipher: Cipher) -> None:
        self._connection = connection
        self._cipher = cipher
        batch = metadata.tables["batch"].c
        self.sources = {
            row.id: row.source or FIRST_SOURCE for row in connection.execute(select(batch.id, batch.source))
        }

    def state(self, table: str, image: Image, name: str) -> State:
        """A field's state in an image, or in a row as it is stored."""
        value = image.get(name)
        if value is not None and info_of(metadata.tables[table].columns[name]).encrypted:
            value = self._cipher.decrypt(value, table, name)
        precision = image.get(f"{name}_precision") or "day"
        return plain(name, value), str(precision), pairs_in(image.get("missing_reasons")).get(name)

    def of_rows(self, table: str, fields: Mapping[int, Collection[str]]) -> dict[int, RowStory]:
        """The stories of rows that were changed since they were entered.

        Args:
            table: their table.
            fields: by key of a row, the fields asked about.
        Returns:
            By key; a row that was never changed is not there.
        """
        stories: dict[int, RowStory] = {}
        earlier: dict[tuple[int, int], RowStory] = {}
        for _, row, before, after in changes_of(self._connection, table, fields):
            if row not in stories:
                stories[row] = RowStory()
                self._note(table, stories[row], before, fields[row], before.get("batch_id"))
            kind, batch = change_of(before, after)
            if kind is Change.TAKEN_BACK:
                if batch is not None and (row, batch) in earlier:
                    stories[row] = earlier.pop((row, batch))
                continue
            if batch is not None:
                earlier[row, batch] = deepcopy(stories[row])
            changed = [n for n in fields[row] if self.state(table, before, n) != self.state(table, after, n)]
            self._note(table, stories[row], after, changed, batch)
        return stories

    def _note(self, table: str, story: RowStory, image: Image, names: Collection[str], batch: int | None) -> None:
        for name in names:
            state = self.state(table, image, name)
            story.writer[name] = batch
            if batch is not None:
                story.said.setdefault(self.sources[batch], {})[name] = state
            if state[0] is not None or state[2] is not None:
                story.filled.add(name)


def changes_of(
    connection: Connection, table: str, rows: Collection[int], since: int = 0
) -> Iterator[tuple[int, int, dict[str, Any], dict[str, Any]]]:
    """The entries that changed rows of a table, oldest first: (entry, key, image before, image after).

    Args:
        connection: reads the history.
        table: the rows' table.
        rows: their keys.
        since: only entries after this one.
    """
    c = HISTORY.c
    query = select(c.id, c.about_row, c.before, c.after).order_by(c.id)
    query = query.where(c.about_table == table, c.kind.in_([ChangeKind.UPDATE, ChangeKind.ERASURE]), c.id > since)
    if len(rows) <= _CHUNK:
        query = query.where(c.about_row.in_(sorted(rows)))
    for entry in connection.execute(query):
        if entry.about_row in rows and entry.before and entry.after:
            yield entry.id, entry.about_row, json.loads(entry.before), json.loads(entry.after)
