"""Putting a workbook on disk: whole or not at all, and the same bytes from the same content."""

from __future__ import annotations

import io
import os
import re
import tempfile
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import IO, TYPE_CHECKING

from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from openpyxl import Workbook

# The package format wants a date for every part; a fixed one keeps equal content equal to the byte.
_PART_DATE = (1980, 1, 1, 0, 0, 0)
_PROPERTIES = "docProps/core.xml"
_STAMP = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*(</dcterms)")
_STAMP_TEXT = rb"\g<1>2000-01-01T00:00:00Z\g<2>"


def save_workbook(workbook: Workbook, path: Path) -> None:
    """Save a workbook; see ``save_package``."""
    made = io.BytesIO()
    workbook.save(made)
    save_package(path, lambda stream: _repack(made, stream))


def save_package(path: Path, write: Callable[[IO[bytes]], object]) -> None:
    """Write a file under a temporary name and move it into place, readable by its owner alone.

    Args:
        path: where the file goes.
        write: writes the bytes into the stream it is given.

    Raises:
        GravelbookError: the disk refused; nothing is left behind.
    """
    try:
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as stream:
                write(stream)
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise GravelbookError(f"{path} could not be written: {fault.strerror}. Nothing was left there.") from None


def _repack(made: io.BytesIO, stream: IO[bytes]) -> None:
    """Copy a package without the time at which it was made."""
    with zipfile.ZipFile(made) as source, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as target:
        for part in source.namelist():
            entry = zipfile.ZipInfo(part, _PART_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            with source.open(part) as old, target.open(entry, "w", force_zip64=True) as new:
                if part == _PROPERTIES:
                    new.write(_STAMP.sub(_STAMP_TEXT, old.read()))
                else:
                    while piece := old.read(1 << 20):
                        new.write(piece)
