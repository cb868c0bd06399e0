"""Seals what a migration does to the rows into the change history, so that the proof of every row still holds.

A revision that only adds an empty field, or makes a table, leaves every fingerprint as it was and gets no entry. One
that moves data gets an entry with the content hash before and after and the new fingerprints of the rows it touched.
What is compared with is the history itself, so a step during which the history was set aside is sealed by the next
step that has it again.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from registry.schema.lists_outcome import ChangeKind

if TYPE_CHECKING:
    from sqlalchemy import Connection

BY = "migration"
Prints = dict[str, dict[int, bytes]]


class Seal:
    """Watches one run of migrations on one connection."""

    def after_step(self, connection: Connection, *, revision: str, upward: bool) -> None:
        """Write an entry when the rows are no longer what the history says. Called after each revision."""
        from sqlalchemy import inspect

        from registry.store.cipher import REGISTRY, Cipher, wrapped_keys_in
        from registry.store.fingerprints import Fingerprints
        from registry.store.history import Chain, Marks, Replay, head, stored_entries
        from registry.store.keys import load_keys
        from registry.store.location import parse_location

        if not inspect(connection).has_table("change_history") or head(connection)[0] == 0:
            return
        place = parse_location(connection.engine.url.render_as_string(hide_password=False))
        keys = load_keys(place)
        replay = Replay()
        for entry in stored_entries(connection):
            replay.take(Marks.read(entry["fingerprints"]))
        expected = replay.expected
        fingerprints = Fingerprints(connection, keys)
        actual: Prints = {table: dict(fingerprints.of_table(table)) for table in fingerprints.tables()}
        marks = Marks()
        for table in sorted({*expected, *actual}):
            was, now = expected.get(table, {}), actual.get(table, {})
            if left := [(row, found) for row, found in now.items() if was.get(row) != found]:
                marks.left[table] = left
            if gone := [row for row in was if row not in now]:
                marks.gone[table] = gone
        if not marks:
            return
        said = f"revision {revision}, {'up' if upward else 'down'}"
        Chain(connection, keys).append(
            ChangeKind.MIGRATION,
            by=BY,
            marks=marks,
            reason=Cipher(keys, wrapped_keys_in(connection)).encrypt(REGISTRY, said, "change_history", "reason"),
            content_before=_hash(expected),
            content_after=_hash(actual),
        )


def of(connection: Connection) -> Seal:
    """A seal for the migrations about to run on a connection."""
    return Seal()


def _hash(prints: Prints) -> str:
    """One hash over the fingerprints of all rows of all tables that hold any."""
    seal = hashlib.blake2b(digest_size=32)
    for table in sorted(name for name, rows in prints.items() if rows):
        seal.update(table.encode() + b"=")
        for row, found in sorted(prints[table].items()):
            seal.update(row.to_bytes(8) + found)
    return seal.hexdigest()
