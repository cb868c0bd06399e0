"""The registry: one database with its keys. Readers read, one writer at a time goes through the door."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, select
from sqlalchemy.exc import OperationalError

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata
from registry.store.cipher import REGISTRY, Cipher, keyed_index, wrapped_keys_in
from registry.store.door import Door
from registry.store.engine import connect, is_busy, make_engine, use_write_ahead_log
from registry.store.failures import said_in_words
from registry.store.fingerprints import Fingerprints, registry_hash
from registry.store.history import HISTORY, Chain, Head, Marks, entry_hash, head
from registry.store.ids import WithdrawnKeys
from registry.store.keys import Keys, create_keys, key_file_of, load_keys
from registry.store.location import Location, check_free, check_readable, parse_location
from registry.store.refusals import refused
from registry.store.revisions import check_revision, revision_of
from registry.store.upgrade import upgrade_to_head
from registry.store.values import writable


class _Turns:
    """Whose turn it is to write to one database.

    Writers of one process queue here; the
    database's own waiting is meant for other processes and is unfair.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._writer: int | None = None

    def __enter__(self) -> None:
        if self._writer == threading.get_ident():
            raise RuntimeError("a writing transaction is open in this thread already")
        self._lock.acquire()
        self._writer = threading.get_ident()

    def __exit__(self, *_: object) -> None:
        self._writer = None
        self._lock.release()


_turns: dict[str, _Turns] = {}
_turns_guard = threading.Lock()


class Registry:
    """An open registry. Threads may share it. Made by ``open_registry`` or ``create_registry``."""

    def __init__(self, location: Location, engine: Engine, keys: Keys) -> None:
        self.location = location
        self.engine = engine
        self.keys = keys
        self._withdrawn = WithdrawnKeys()
        with _turns_guard:
            self._turn = _turns.setdefault(location.identity, _Turns())

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One reading transaction: everything read in it is of one moment."""
        with connect(self.engine, self.location) as connection, said_in_words(self.location), connection.begin():
            yield connection

    @contextmanager
    def writing(self, *, by: str, reason: str | None = None) -> Iterator[Door]:
        """One writing transaction: all of it is kept, or nothing when an error leaves the block.

        Args:
            by: who writes, for the history.
            reason: why; needed for changes to signed-off operations.

        Raises:
            GravelbookError: nobody is named; another program holds the registry; or a refused row was passed over.
        """
        by_info = writable(HISTORY)["by"]
        if not isinstance(by, str) or not by.strip() or len(by) > 80 or not by.isprintable():
            raise refused(by_info)
        with self._turn:
            with self._transaction() as connection:
                door = Door(connection, self.keys, self._withdrawn, by=by, reason=reason)
                yield door
                if door.broken:
                    raise GravelbookError("A row was refused, so nothing of this change was saved.")
            for follow_up in door.after_commit:
                follow_up()

    @contextmanager
    def preparing(self, *, by: str, reason: str | None = None) -> Iterator[Door]:
        """A door on a reading transaction, for what can be done before one's turn to write; nothing is written by it.

        Args:
            by: who will write.
            reason: why.
        """
        with self.reading() as connection:
            yield Door(connection, self.keys, self._withdrawn, by=by, reason=reason)

    def head(self) -> Head:
        """Length of the change history and the hash of its last entry."""
        with self.reading() as connection:
            return head(connection)

    def find_patient(self, site_code: str, hospital_number: str) -> int | None:
        """The patient with a hospital number at a site, found by the keyed index; nothing is decrypted."""
        site, number = metadata.tables["site"].c, metadata.tables["hospital_number"].c
        query = select(number.patient_id).where(
            number.site_id == site.id,
            site.code == site_code,
            number.number_index == keyed_index(self.keys, hospital_number),
        )
        with self.reading() as connection:
            found = connection.execute(query).scalar()
        return None if found is None else int(found)

    def cipher(self, connection: Connection) -> Cipher:
        """A cipher that knows the patients' keys as a connection sees them."""
        return Cipher(self.keys, wrapped_keys_in(connection))

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()

    def __enter__(self) -> Registry:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        with connect(self.engine, self.location, writing=True) as connection:
            try:
                transaction = connection.begin()
            except OperationalError as fault:
                if is_busy(fault):
                    raise GravelbookError(
                        f"Another program has been writing to {self.location.shown} for longer than we wait. Try "
                        "again when it has finished."
                    ) from fault
                raise
            with said_in_words(self.location), transaction:
                yield connection


def open_registry(location: str | os.PathLike[str] | None = None) -> Registry:
    """Open a registry.

    Args:
        location: a file or an SQLAlchemy URL; None takes GRAVELBOOK_REGISTRY, else ``gravelbook.db`` here.

    Raises:
        GravelbookError: there is none, it has another shape than this program's, or its key file is missing or
            another registry's.
    """
    place = parse_location(location)
    check_readable(place)
    engine = make_engine(place)
    try:
        with connect(engine, place) as connection:
            check_revision(connection, place)
            keys = load_keys(place)
            _check_keys(connection, place, keys)
        use_write_ahead_log(engine)
    except BaseException:
        engine.dispose()
        raise
    return Registry(place, engine, keys)


def create_registry(location: str | os.PathLike[str] | None = None, *, by: str = "gravelbook") -> Registry:
    """Make a new registry: the key file, the tables, and the first entry of the history.

    Raises:
        GravelbookError: something is there already, or the key file exists; nothing is overwritten.
    """
    place = parse_location(location)
    check_free(place)
    engine = make_engine(place)
    made: list[Path] = []
    try:
        if place.file is None:
            with connect(engine, place) as connection:
                if revision_of(connection) is not None:
                    raise GravelbookError(f"{place.shown} holds a registry already. Nothing is overwritten.")
        keys = create_keys(place)
        made.append(key_file_of(place))
        if place.file is not None:
            place.file.touch(mode=0o600)
            made += [place.file, *(place.file.with_name(place.file.name + end) for end in ("-wal", "-shm"))]
        upgrade_to_head(engine)
        with connect(engine, place, writing=True) as connection, connection.begin():
            cipher = Cipher(keys, wrapped_keys_in(connection))
            Chain(connection, keys).append(
                ChangeKind.MIGRATION,
                by=by,
                marks=Marks(),
                reason=cipher.encrypt(REGISTRY, "registry created", "change_history", "reason"),
                content_after=registry_hash(Fingerprints(connection, keys)),
                row_count=0,
            )
    except BaseException:
        engine.dispose()
        for file in made:
            file.unlink(missing_ok=True)
        raise
    return Registry(place, engine, keys)


def _check_keys(connection: Connection, place: Location, keys: Keys) -> None:
    """Refuse keys that did not seal this registry's first entry."""
    first: Any = connection.execute(select(HISTORY).order_by(HISTORY.c.id).limit(1)).mappings().one_or_none()
    if first is None:
        raise GravelbookError(
            f"The registry {place.shown} has no change history, not even of its making. It was emptied outside this "
            "program: put back a backup with: gravelbook store restore"
        )
    if entry_hash(keys, first) != first["entry_hash"]:
        raise GravelbookError(
            f"The key file {key_file_of(place)} is not the one of the registry {place.shown} (or the first entry of "
            "its history was changed). Put the right key file back, or name its place in GRAVELBOOK_KEY_FILE."
        )
