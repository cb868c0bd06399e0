"""Where a registry is: an SQLite file or a PostgreSQL database, read from what a person typed."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError

from registry.schema.errors import GravelbookError

DEFAULT = "gravelbook.db"
_SQLITE_HEADER = b"SQLite format 3\x00"


@dataclass(frozen=True)
class Location:
    """A registry's place. ``file`` is the SQLite file, None for PostgreSQL."""

    url: URL
    file: Path | None

    @property
    def shown(self) -> str:
        """The place in words, without a password."""
        return str(self.file) if self.file else self.url.render_as_string(hide_password=True)

    @property
    def identity(self) -> str:
        """The same text for the same database, however it was written."""
        return str(self.file.resolve()) if self.file else self.url.render_as_string(hide_password=True)


def parse_location(location: str | os.PathLike[str] | None) -> Location:
    """Read a location: a file, or an SQLAlchemy URL.

    Args:
        location: ``gravelbook.db``, ``sqlite:///file.db`` or ``postgresql://user@host/database``; None takes the
            environment variable GRAVELBOOK_REGISTRY, else ``gravelbook.db`` here.

    Raises:
        GravelbookError: the text names another kind of database, or no database.
    """
    text = os.fspath(location) if location is not None else os.environ.get("GRAVELBOOK_REGISTRY") or DEFAULT
    if "://" not in text:
        return _sqlite(Path(text))
    try:
        url = make_url(text.replace("postgres://", "postgresql://", 1) if text.startswith("postgres://") else text)
    except ArgumentError as fault:
        raise GravelbookError(
            f"The registry's address {text.split('://')[0]}://... cannot be read. Write it as "
            "postgresql://user@host:5432/database."
        ) from fault
    backend = url.get_backend_name()
    if backend == "sqlite":
        if not url.database or url.database == ":memory:":
            raise GravelbookError("A registry cannot be kept in memory: name an SQLite file.")
        return _sqlite(Path(url.database))
    if backend != "postgresql":
        raise GravelbookError(
            f"A registry is an SQLite file or a PostgreSQL database, not {backend}. Give a file name or an address "
            "that begins with postgresql://."
        )
    if not url.database:
        raise GravelbookError("The PostgreSQL address names no database: add it as postgresql://user@host/DATABASE.")
    return Location(url.set(drivername="postgresql+psycopg"), None)


def _sqlite(file: Path) -> Location:
    return Location(URL.create("sqlite", database=str(file)), file)


def check_readable(location: Location) -> None:
    """Refuse an SQLite file that cannot be a registry in use. PostgreSQL is asked when it is connected to.

    Raises:
        GravelbookError: no such file, a folder, another kind of file, an empty file, or one that may not be written.
    """
    file = location.file
    if file is None:
        return
    if file.is_dir():
        raise GravelbookError(f"{file} is a folder. Name the registry's file in it, for example {file / DEFAULT}.")
    if not file.exists():
        raise GravelbookError(
            f"There is no registry at {file}. Name an existing file with --registry or GRAVELBOOK_REGISTRY, or make "
            f"a new one with: gravelbook store create --registry {file}"
        )
    if not os.access(file, os.R_OK):
        raise GravelbookError(f"{file} may not be read by this account. Ask its owner for leave to read and write it.")
    with file.open("rb") as opened:
        header = opened.read(len(_SQLITE_HEADER))
    if not header:
        raise GravelbookError(f"{file} is empty, not a registry. Remove it and run: gravelbook store create")
    if header != _SQLITE_HEADER:
        raise GravelbookError(f"{file} is not an SQLite file. Name the registry's own file with --registry.")
    if not os.access(file, os.W_OK) or not os.access(file.resolve().parent, os.W_OK):
        raise GravelbookError(
            f"{file} or its folder is read-only. A registry keeps its journal beside it, so both must be writable: "
            "copy the registry and its key file to a folder of your own, or ask for leave to write."
        )


def check_free(location: Location) -> None:
    """Refuse to create a registry where something is already.

    Raises:
        GravelbookError: the file exists, or its folder does not.
    """
    file = location.file
    if file is None:
        return
    if file.exists() and (file.is_dir() or file.stat().st_size):
        raise GravelbookError(f"There is already something at {file}. Nothing is overwritten: choose another name.")
    if not file.resolve().parent.is_dir():
        raise GravelbookError(f"There is no folder {file.resolve().parent}. Make it first, or choose another place.")
