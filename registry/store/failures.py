"""Says in words that the disk is full or the database has gone in the middle of the work."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from registry.schema.errors import GravelbookError
from registry.store.location import Location

_FULL = ("disk is full", "disk I/O error", "No space left", "could not extend file", "File too large")
_GONE = (
    "terminating connection",
    "server closed the connection",
    "connection is closed",
    "connection is lost",
    "connection failed",
    "consuming input failed",
    "the database system is",
    "unable to open database file",
    "no connection to the server",
)
_LOCKED = ("database is locked", "database table is locked")


@contextmanager
def said_in_words(location: Location) -> Iterator[None]:
    """Turn a failing disk or server within the block into a sentence; other errors pass as they are.

    Raises:
        GravelbookError: the disk is full, or the server or file is gone.
    """
    try:
        yield
    except GravelbookError:
        raise
    except Exception as fault:
        found = failure_in_words(fault, location.shown)
        if found is None:
            raise
        raise found from fault


def failure_in_words(fault: BaseException, shown: str) -> GravelbookError | None:
    """The error for a database that failed in the middle of a change; None where the fault is another one.

    Args:
        fault: what the driver or SQLAlchemy raised.
        shown: the registry's place, without its password.
    """
    said = " ".join(str(fault.orig if isinstance(fault, DBAPIError) else fault).split())
    if any(words in said for words in _FULL):
        return GravelbookError(
            f"The disk of {shown} is full or cannot be written ({said}). Nothing was changed: the registry is as it "
            "was before. Make room on the disk, then do it again."
        )
    if any(words in said for words in _GONE) or (isinstance(fault, DBAPIError) and fault.connection_invalidated):
        return GravelbookError(
            f"The database server or file of {shown} was lost in the middle of the work ({said}). Nothing was changed "
            "unless the whole of it was: look with 'gravelbook store status', then do it again."
        )
    if any(words in said for words in _LOCKED):
        return GravelbookError(
            f"Another program has been holding {shown} for longer than we wait. Nothing was changed. Try again when it "
            "has finished."
        )
    return None
