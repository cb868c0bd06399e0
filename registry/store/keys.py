"""The master key, kept in a file outside the database, and the four keys made from it.

Whoever has the database without this file can read no name, number or note, and cannot write a history that
verifies. Whoever loses the file loses all of them: it belongs in a safe of its own, apart from the backups.
"""

from __future__ import annotations

import base64
import binascii
import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from registry.schema.errors import GravelbookError
from registry.store.location import Location

VARIABLE = "GRAVELBOOK_KEY_FILE"
_FIRST_LINE = "Gravelbook master key. Keep it secret, keep a copy apart from the database and its backups."
_BYTES = 32


@dataclass(frozen=True, repr=False)
class Keys:
    """Keys of 32 bytes each, made from the master key.

    wrapping: encrypts each patient's own key. index: keyed index by which a number is found. seal: chains the
    history and fingerprints the rows. own: encrypts free wording that belongs to no patient.
    """

    wrapping: bytes
    index: bytes
    seal: bytes
    own: bytes

    def __repr__(self) -> str:
        return "Keys(...)"

    @classmethod
    def derived(cls, master: bytes) -> Keys:
        """The keys of a master key, by HKDF with SHA-256 (RFC 5869), one purpose each."""
        return cls(*(_derive(master, use) for use in ("wrapping", "index", "seal", "own")))


def key_file_of(location: Location) -> Path:
    """The file that holds the master key of a registry.

    The environment variable GRAVELBOOK_KEY_FILE; else, for an SQLite file, ``<file>.key`` beside it; else, for
    PostgreSQL, ``gravelbook-<database>.key`` in the current folder.
    """
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    if location.file is not None:
        return location.file.with_name(location.file.name + ".key")
    return Path(f"gravelbook-{location.url.database}.key")


def create_keys(location: Location) -> Keys:
    """Make a master key and write its file, readable by this account alone. An existing file is never touched.

    Raises:
        GravelbookError: the file exists already, or cannot be written.
    """
    file, master = key_file_of(location), secrets.token_bytes(_BYTES)
    try:
        descriptor = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError as fault:
        raise GravelbookError(
            f"There is already a key file {file}. It may be the only key to another registry, so it is left alone: "
            f"move it away, or name another file in {VARIABLE}."
        ) from fault
    except OSError as fault:
        raise GravelbookError(f"The key file {file} cannot be written: {fault.strerror}.") from fault
    with os.fdopen(descriptor, "w", encoding="ascii") as opened:
        opened.write(f"{_FIRST_LINE}\n{base64.b64encode(master).decode()}\n")
        opened.flush()
        os.fsync(opened.fileno())
    return Keys.derived(master)


def load_keys(location: Location) -> Keys:
    """Read the master key of a registry.

    Raises:
        GravelbookError: the file is missing, may not be read, or holds no key.
    """
    file = key_file_of(location)
    try:
        lines = file.read_text(encoding="ascii").split("\n")
    except FileNotFoundError as fault:
        raise GravelbookError(
            f"The key file {file} of the registry {location.shown} is missing. Without it nothing in the registry can "
            f"be read or written. Put the file back, or name its place in {VARIABLE}."
        ) from fault
    except (OSError, UnicodeDecodeError) as fault:
        raise GravelbookError(f"The key file {file} cannot be read. Check the file and who may read it.") from fault
    try:
        master = base64.b64decode(lines[1], validate=True) if lines[0] == _FIRST_LINE else b""
    except (IndexError, binascii.Error):
        master = b""
    if len(master) != _BYTES:
        raise GravelbookError(
            f"{file} is not a key file of a registry, or it is damaged. Put back a copy of the right file, or name "
            f"its place in {VARIABLE}."
        )
    return Keys.derived(master)


def _derive(master: bytes, use: str) -> bytes:
    return HKDF(algorithm=SHA256(), length=_BYTES, salt=None, info=f"gravelbook {use} 1".encode()).derive(master)
