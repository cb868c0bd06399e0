"""Holding a snapshot while it is read, so that another process does not take it away.

A held snapshot has a shared lock on its manifest. The automatic snapshot of a registry that has moved on is dropped
only by who gets the lock alone; else the next one drops it. Where the system has no such locks (Windows), an open
file keeps its folder from being renamed, which does the same.
"""

from __future__ import annotations

import os
import weakref
from pathlib import Path

from analysis.cohort.manifest import FILE_NAME
from analysis.cohort.places import drop_folder

try:
    import fcntl
except ImportError:  # pragma: no cover (Windows)
    fcntl = None  # type: ignore[assignment]


class Held:
    """A snapshot's folder, held until this object is let go."""

    def __init__(self, folder: Path) -> None:
        """Hold a folder.

        Raises:
            FileNotFoundError: it is gone, or is being taken away this moment.
        """
        path = folder / FILE_NAME
        descriptor = os.open(path, os.O_RDONLY)
        self._let_go = weakref.finalize(self, os.close, descriptor)
        try:
            if fcntl is not None:
                fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
            # Between opening and locking it may have been dropped.
            if path.stat().st_ino != os.fstat(descriptor).st_ino:
                raise FileNotFoundError(path)
        except (BlockingIOError, FileNotFoundError):
            self._let_go()
            raise FileNotFoundError(path) from None

    def let_go(self) -> None:
        """Stop holding it; done by itself when nothing refers to it any more."""
        self._let_go()


def drop_unless_held(folder: Path) -> bool:
    """Take a snapshot's folder away, unless someone is reading it. True when it is gone."""
    try:
        descriptor = os.open(folder / FILE_NAME, os.O_RDONLY)
    except FileNotFoundError:
        # No whole snapshot was ever here, so nobody can be reading it.
        if folder.is_dir():
            drop_folder(folder)
        return True
    try:
        if fcntl is not None:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            drop_folder(folder)
    except (BlockingIOError, FileNotFoundError):
        return not folder.exists()
    finally:
        os.close(descriptor)
    if fcntl is None:  # pragma: no cover (Windows)
        try:
            drop_folder(folder)
        except PermissionError:
            return False
    return True
