"""The change history: an append-only chain of entries, each sealed over the one before.

``entry_hash`` is a keyed BLAKE2b hash of 32 bytes over the entry's canonical JSON, which holds the hash of the entry
before. Whoever lacks the key file cannot write an entry that fits. What an entry did to the rows is in
``fingerprints``: for each table the keys and fingerprints of rows as the entry left them, and the keys of rows that
it took away; replaying the entries in order gives the fingerprint that every row must have now.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Text, insert, select, type_coerce

from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata
from registry.store.fingerprints import SIZE
from registry.store.keys import Keys

HISTORY = metadata.tables["change_history"]
BEGINNING = "0" * 64
"""What stands in the first entry in place of the hash of the entry before."""

Runs = list[list[int]]
"""Keys as runs [first, last]."""

Head = tuple[int, str]
"""Length of the history and the hash of its last entry."""


@dataclass
class Marks:
    """What an entry did to the rows: fingerprints of rows as it left them, keys of rows it took away."""

    left: dict[str, list[tuple[int, bytes]]] = field(default_factory=dict)
    gone: dict[str, list[int]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return any(self.left.values()) or any(self.gone.values())

    @property
    def count(self) -> int:
        """How many rows."""
        return sum(map(len, self.left.values())) + sum(map(len, self.gone.values()))

    def written(self) -> str:
        """As the history stores them."""
        return json.dumps(
            {
                table: {
                    "rows": runs([key for key, _ in self.left.get(table, [])]),
                    "prints": base64.b64encode(b"".join(p for _, p in sorted(self.left.get(table, [])))).decode(),
                    "gone": runs(self.gone.get(table, [])),
                }
                for table in sorted({*self.left, *self.gone})
            },
            separators=(",", ":"),
        )

    @classmethod
    def read(cls, written: str | None) -> Marks:
        """From what the history stores.

        Raises:
            ValueError: it is damaged.
        """
        marks = cls()
        for table, said in json.loads(written or "{}").items():
            prints = base64.b64decode(said["prints"], validate=True)
            cut = [prints[i : i + SIZE] for i in range(0, len(prints), SIZE)]
            marks.left[table] = list(zip(_keys(said["rows"]), cut, strict=True))
            marks.gone[table] = list(_keys(said["gone"]))
        return marks


@dataclass
class Replay:
    """The fingerprint that every row must have, by table and key, as the entries taken so far left them."""

    expected: dict[str, dict[int, bytes]] = field(default_factory=dict)

    def take(self, marks: Marks) -> None:
        """Go on by one entry."""
        for table, rows in marks.left.items():
            self.expected.setdefault(table, {}).update(rows)
        for table, keys in marks.gone.items():
            for key in keys:
                self.expected.get(table, {}).pop(key, None)


class Chain:
    """Adds entries to the history within one writing transaction."""

    def __init__(self, connection: Connection, keys: Keys) -> None:
        self._connection = connection
        self._keys = keys
        self._head: Head | None = None

    @property
    def head(self) -> Head:
        """Length and last hash, entries of this transaction included."""
        if self._head is None:
            self._head = head(self._connection)
        return self._head

    def digest(self, content: str) -> str:
        """A keyed hash of what an entry holds."""
        return hashlib.blake2b(content.encode(), key=self._keys.seal, digest_size=32).hexdigest()

    def append(
        self,
        kind: ChangeKind,
        *,
        by: str,
        marks: Marks,
        about: tuple[str, int] | None = None,
        before: str | None = None,
        after: str | None = None,
        reason: str | None = None,
        content_before: str | None = None,
        content_after: str | None = None,
        row_count: int | None = None,
        fingerprints: str | None = None,
    ) -> Head:
        """Add one entry.

        Args:
            kind: what happened.
            by: who did it.
            marks: what it did to the rows.
            about: table and key of the row it is about, where it is about one.
            before: image of the row before.
            after: image of the row after.
            reason: why, encrypted already.
            content_before: hash of the content before it, of an entry about many rows.
            content_after: hash of the content it left, of an entry about many rows.
            row_count: how many rows it concerns; counted from the marks when it is not given.
            fingerprints: the marks as they are written, where the caller has written them already.
        Returns:
            The new head.
        """
        length, previous = self.head
        entry: dict[str, Any] = {
            "id": length + 1,
            "at": datetime.now(UTC),
            "by": by,
            "kind": kind,
            "about_table": about[0] if about else None,
            "about_row": about[1] if about else None,
            "before": before,
            "after": after,
            "reason": reason,
            "row_count": marks.count if row_count is None else row_count,
            "content_before": content_before,
            "content_after": content_after,
            "fingerprints": fingerprints or (marks.written() if marks else None),
            "previous_hash": previous,
        }
        entry["entry_hash"] = entry_hash(self._keys, entry)
        self._connection.execute(insert(HISTORY).values(entry))
        self._head = (length + 1, entry["entry_hash"])
        return self._head


def entry_hash(keys: Keys, entry: Mapping[str, Any]) -> str:
    """The hash that an entry must carry."""
    said = {name: _plain(value) for name, value in entry.items() if value is not None and name != "entry_hash"}
    text = json.dumps(said, sort_keys=True, separators=(",", ":"))
    return hashlib.blake2b(text.encode(), key=keys.seal, digest_size=32).hexdigest()


def head(connection: Connection) -> Head:
    """Length and last hash of the history as a connection sees it."""
    query = select(HISTORY.c.id, HISTORY.c.entry_hash).order_by(HISTORY.c.id.desc()).limit(1)
    found = connection.execute(query).one_or_none()
    return (found.id, found.entry_hash) if found else (0, BEGINNING)


def stored_entries(connection: Connection) -> Iterator[Mapping[str, Any]]:
    """All entries in order, as they are stored: nothing is interpreted that a tampered entry could break."""
    at = type_coerce(HISTORY.c.at, Text()) if connection.dialect.name == "sqlite" else HISTORY.c.at
    others = [c for c in HISTORY.columns if c.name not in ("at", "kind")]
    query = select(at.label("at"), type_coerce(HISTORY.c.kind, Text()).label("kind"), *others).order_by(HISTORY.c.id)
    for row in connection.execute(query.execution_options(stream_results=True, yield_per=200)):
        yield dict(row._mapping)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    return str(value) if isinstance(value, str) else value


def runs(keys: Iterable[int]) -> list[list[int]]:
    """Keys as runs [first, last]."""
    runs: list[list[int]] = []
    keys = sorted(keys)
    if keys and keys == list(range(keys[0], keys[0] + len(keys))):  # as those of a batch nearly always are
        return [[keys[0], keys[-1]]]
    for key in keys:
        if runs and key == runs[-1][1] + 1:
            runs[-1][1] = key
        else:
            runs.append([key, key])
    return runs


def _keys(runs: Iterable[list[int]]) -> Iterator[int]:
    for first, last in runs:
        yield from range(first, last + 1)
