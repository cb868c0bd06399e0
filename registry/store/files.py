"""Files that are whole or not there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from registry.schema.errors import GravelbookError


def refuse_overwriting(path: Path, *, overwrite: bool, ending: str = ".xlsx", what: str = "workbook") -> None:
    """Refuse to write where something stands.

    Args:
        path: where the file would go.
        overwrite: a file that is there may be replaced.
        ending: how the file's name has to end.
        what: what the file is called.

    Raises:
        GravelbookError: it is there and may not be replaced, or the place cannot hold such a file.
    """
    if path.is_dir():
        raise GravelbookError(f"{path} is a folder. Give the name of the {what} to write, ending in {ending}.")
    if path.suffix.lower() != ending:
        raise GravelbookError(f"{path} does not end in {ending}, as a {what} has to. Give such a name.")
    if path.exists() and not overwrite:
        raise GravelbookError(f"{path} is there already and was left as it is. Give another name, or --overwrite.")
    if not path.parent.is_dir():
        raise GravelbookError(f"There is no folder {path.parent}. Make it first, or give another name.")


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A temporary path to write to; it takes the target's name when the block ends well, else it is removed.

    Raises:
        GravelbookError: the folder cannot be made or written.
    """
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        descriptor, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=target.suffix, dir=target.parent)
    except OSError as fault:
        why = (fault.strerror or "cannot be written").lower()
        raise GravelbookError(f"{target} cannot be written: {why}. Name another place.") from fault
    os.close(descriptor)
    part = Path(name)
    try:
        yield part
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)


def write_whole(target: Path, text: str) -> None:
    """Write a text file, whole or not at all.

    Raises:
        GravelbookError: the folder cannot be made or written.
    """
    with whole_file(target) as part:
        part.write_text(text, encoding="utf-8")
        part.chmod(0o644)
