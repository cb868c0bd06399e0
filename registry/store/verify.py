"""Proves that the registry is what its history says, and names each row where it is not.

The chain is checked entry by entry, then replayed to the fingerprint that every row must have, and that is compared
with the rows. What was changed past the door is found wherever it was changed; that the end of the history was cut
off, together with the rows it speaks of, can be told only from anchors kept elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Table, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store import triggers
from registry.store.cipher import ERASED, Cipher, keyed_index, wrapped_keys_in
from registry.store.fingerprints import Fingerprints
from registry.store.history import BEGINNING, Head, Marks, Replay, entry_hash, stored_entries
from registry.store.images import search_indexes
from registry.store.keys import Keys

if TYPE_CHECKING:
    from registry.store.registry import Registry

_HISTORY = "change_history"
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Finding:
    """Something that does not fit. It never holds a value of the row."""

    table: str
    row: int | None
    what: str

    def __str__(self) -> str:
        return f"{self.table}{'' if self.row is None else f', row {self.row}'}: {self.what}"


@dataclass(frozen=True)
class Verification:
    """What a verification went through and found. ``head`` is the anchor to keep for the next one."""

    findings: list[Finding]
    entries: int
    rows: int
    head: Head

    @property
    def holds(self) -> bool:
        """Nothing was found."""
        return not self.findings

    @property
    def summary(self) -> str:
        """One sentence."""
        went = f"{self.entries:,} history entries and {self.rows:,} rows"
        return f"{went}: all as recorded." if self.holds else f"{went}: {len(self.findings):,} findings."


@dataclass
class _Replay(Replay):
    """A replay that also keeps the hashes of the entries asked about."""

    hashes: dict[int, str] = field(default_factory=dict)
    head: Head = (0, BEGINNING)
    entries: int = 0


def verify(registry: Registry, anchors: Iterable[Head] = (), progress: Progress | None = None) -> Verification:
    """Verify a registry.

    Args:
        registry: the open registry.
        anchors: (length, last hash) of the history at earlier times, as manifests of snapshots and backups keep them.
        progress: told what is being gone through.
    """
    with registry.reading() as connection:
        return verify_connection(connection, registry.keys, anchors, progress)


def verify_connection(
    connection: Connection, keys: Keys, anchors: Iterable[Head] = (), progress: Progress | None = None
) -> Verification:
    """Verify what an open connection sees: also inside a migration, and of a registry in an older shape.

    Arguments as for ``verify``; ``keys`` are the registry's.
    """
    say = progress or (lambda _: None)
    anchors = [anchor for anchor in anchors if anchor[0] > 0]
    findings = list(_triggers(connection))
    say("change history")
    replay = _Replay()
    findings += _chain(connection, keys, replay, {length for length, _ in anchors})
    findings += _anchors(replay, anchors)
    fingerprints, rows = Fingerprints(connection, keys), 0
    there = fingerprints.tables()
    for table in sorted({*there, *replay.expected}):
        say(table)
        for found in _rows(fingerprints, table, replay.expected.get(table, {})):
            if isinstance(found, Finding):
                findings.append(found)
            else:
                rows += found
    cipher = Cipher(keys, wrapped_keys_in(connection))
    for declared in metadata.sorted_tables:
        if declared.name in there:
            findings += _indexes(connection, declared, keys, cipher)
    return Verification(findings, replay.entries, rows, replay.head)


def _triggers(connection: Connection) -> Iterator[Finding]:
    there = triggers.listed(connection)
    for name, text in triggers.expected(connection.dialect.name).items():
        if name not in there:
            yield Finding(_HISTORY, None, f"the trigger {name} is missing: the history could be changed")
        elif there[name] != text:
            yield Finding(_HISTORY, None, f"the trigger {name} was changed: the history could be changed")


def _chain(connection: Connection, keys: Keys, replay: _Replay, wanted: set[int]) -> Iterator[Finding]:
    length, previous = 0, BEGINNING
    for entry in stored_entries(connection):
        row = int(entry["id"])
        if row != length + 1:
            missing = f"entry {length + 1} is" if row == length + 2 else f"entries {length + 1} to {row - 1} are"
            yield Finding(_HISTORY, row, f"{missing} missing before this one")
        if entry_hash(keys, entry) != entry["entry_hash"]:
            yield Finding(_HISTORY, row, "the entry was changed outside this program")
        elif entry["previous_hash"] != previous:
            yield Finding(_HISTORY, row, "the entry does not follow from the one before it")
        try:
            replay.take(Marks.read(entry["fingerprints"]))
        except (ValueError, KeyError, TypeError, AttributeError):
            yield Finding(_HISTORY, row, "the entry's fingerprints cannot be read")
        length, previous = row, str(entry["entry_hash"])
        replay.entries += 1
        if row in wanted:
            replay.hashes[row] = previous
    replay.head = (length, previous)


def _anchors(replay: _Replay, anchors: Iterable[Head]) -> Iterator[Finding]:
    for length, wanted in anchors:
        found = replay.hashes.get(length)
        if length > replay.head[0]:
            yield Finding(
                _HISTORY,
                None,
                f"the history has {replay.head[0]} entries but had {length} earlier: its end was cut off",
            )
        elif found != wanted:
            yield Finding(_HISTORY, length, "the entry is not the one that stood here earlier: history was rewritten")


def _rows(fingerprints: Fingerprints, table: str, expected: Mapping[int, bytes]) -> Iterator[Finding | int]:
    """Findings of one table, and last the number of rows gone through."""
    left, rows = dict(expected), 0
    there = fingerprints.of_table(table) if table in fingerprints.tables() else iter(())
    for key, found in there:
        rows += 1
        wanted = left.pop(key, None)
        if wanted is None:
            yield Finding(table, key, "the row is not in the history: it was not entered by this program")
        elif wanted != found:
            yield Finding(table, key, "the row was changed outside this program")
    for key in sorted(left):
        yield Finding(table, key, "the row was deleted outside this program")
    yield rows


def _indexes(connection: Connection, table: Table, keys: Keys, cipher: Cipher) -> Iterator[Finding]:
    """Keyed indexes that do not belong to the number beside them."""
    for index, number in search_indexes(table).items():
        query: Any = select(table.c.id, table.c[number], table.c[index]).order_by(table.c.id)
        for row, sealed, found in connection.execute(query):
            try:
                clear = cipher.decrypt(sealed, table.name, number) if sealed is not None else None
            except GravelbookError:
                yield Finding(table.name, row, f"{number} cannot be decrypted")
                continue
            wanted = None if clear in (None, ERASED) else keyed_index(keys, str(clear))
            if wanted != found:
                yield Finding(table.name, row, f"{index} does not belong to the row's {number}")
