"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from registry.schema.errors import GravelbookError


def write_whole(path: Path, content: bytes, *, private: bool = False) -> None:
    """Write a file in one step, over what stands there; a fault leaves what stood there.

    private: only this account may read it, for what holds patients' cases; else as any new file.

    Raises GravelbookError when the place cannot be written to.
    """
    made: str | None = None
    try:
        if path.is_dir():
            raise IsADirectoryError(21, "is a folder")
        descriptor, made = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
        if not private:
            Path(made).chmod(0o666 & ~_mask())
        Path(made).replace(path)
    except OSError as fault:
        if made is not None:
            Path(made).unlink(missing_ok=True)
        raise GravelbookError(
            f"{path} cannot be written: {(fault.strerror or 'unknown reason').lower()}. Name a file in a folder that "
            "is there and that you may write to. What stood there before, if anything, is untouched."
        ) from None


def _mask() -> int:
    # The mask can only be asked for by setting it.
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
