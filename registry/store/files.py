"""Files that are whole or not there."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from registry.schema.errors import GravelbookError


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
