"""Where snapshots are kept: a folder beside the registry, closed to other accounts.

gravelbook.db.snapshots/automatic/<key>/   the snapshot of the registry as it stands
gravelbook.db.snapshots/kept/<name>/       snapshots that a person keeps
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from registry.schema.errors import GravelbookError
from registry.store.location import Location

FOLDER_VARIABLE = "GRAVELBOOK_SNAPSHOTS"
AUTOMATIC, KEPT = "automatic", "kept"
# Folders in the making begin with this; a run that was killed may leave one, and the next run clears it away.
UNFINISHED = ".unfinished-"
# Seconds after which no run can still be writing it.
STALE_S = 3600


def snapshots_folder(location: Location) -> Path:
    """The folder of a registry's snapshots; it need not exist yet.

    For a database server it stands in the folder that GRAVELBOOK_SNAPSHOTS names, by default the current one.
    """
    if location.file is not None:
        file = location.file.absolute()
        return file.with_name(file.name + ".snapshots")
    return Path(os.environ.get(FOLDER_VARIABLE) or ".").absolute() / f"gravelbook-{location.url.database}.snapshots"


def checked_name(name: str) -> str:
    """A snapshot's name, if it is one.

    Raises:
        GravelbookError: it holds anything but letters, digits, - and _, or is longer than 60 characters.
    """
    if not re.fullmatch(r"[A-Za-z0-9_-]{1,60}", name):
        raise GravelbookError(
            f"{name!r} cannot name a snapshot: a name has 1 to 60 letters (A to Z), digits, - and _, for example "
            "spring_audit-2024."
        )
    return name


@contextmanager
def unfinished_folder(parent: Path) -> Iterator[Path]:
    """A folder to fill inside `parent`; what `settle` has not moved by the end of the block is dropped."""
    closed_folder(parent)
    _clear_stale(parent)
    made = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=parent))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def settle(made: Path, target: Path) -> None:
    """Give a filled folder its name, whole or not at all. When another process was faster, its folder stays."""
    try:
        made.rename(target)
    except OSError:
        if not target.is_dir():
            raise


def drop_folder(folder: Path) -> None:
    """Take a folder away at once: it first leaves its name, so that nobody finds it half empty."""
    leaving = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder.parent))
    try:
        with suppress(FileNotFoundError):  # another process was faster
            folder.rename(leaving / folder.name)
    finally:
        shutil.rmtree(leaving, ignore_errors=True)


def closed_folder(folder: Path) -> None:
    """Make a folder that only this account may enter, with those above it up to the registry's own."""
    for each in (*([folder.parent] if folder.name in (AUTOMATIC, KEPT) else []), folder):
        each.mkdir(mode=0o700, parents=True, exist_ok=True)


def _clear_stale(folder: Path) -> None:
    import time

    for left in folder.glob(UNFINISHED + "*"):
        try:
            if time.time() - left.stat().st_mtime > STALE_S:
                shutil.rmtree(left, ignore_errors=True)
        except FileNotFoundError:  # its own process cleared it in the meantime
            continue
