"""Opening a workbook: every fault of the file as a whole is said in one paragraph."""

from __future__ import annotations

import hashlib
import zipfile
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # Microsoft's compound file: encrypted workbooks and the old .xls
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
ADVICE = "Save the workbook as .xlsx without a password and give that file."


def file_bytes(path: Path) -> bytes:
    """The bytes of a file that is a workbook by its looks.

    Raises:
        GravelbookError: it is not there, a folder, empty, protected, cut off or something else.
    """
    if path.is_dir():
        raise GravelbookError(f"{path} is a folder. Give the workbook itself, a file that ends in .xlsx.")
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise GravelbookError(
            f"There is no file {path}. Look at the name and the folder; 'gravelbook intake template {path}' "
            "writes an empty workbook."
        ) from None
    except OSError as fault:
        raise GravelbookError(
            f"{path} could not be read: {fault.strerror}. Close it elsewhere or ask for the right to read it."
        ) from None
    if not content:
        raise GravelbookError(f"{path} is empty: it holds no bytes at all. Save it again or copy it anew.")
    if content.startswith(_COMPOUND):
        why = "is protected by a password" if _ENCRYPTED in content else "is in the old .xls format"
        raise GravelbookError(f"{path} {why}, so it cannot be read. {ADVICE}")
    if not content.startswith(b"PK"):
        raise GravelbookError(f"{path} is not a workbook (.xlsx), whatever its name says. {ADVICE}")
    return content


def content_hash(content: bytes) -> str:
    """SHA-256 of a file's bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()


def open_workbook(path: Path, content: bytes) -> tuple[Any, zipfile.ZipFile]:
    """The workbook for its values, and its package for what the values do not show.

    Raises:
        GravelbookError: the file is cut off, damaged or no workbook.
    """
    import io

    import python_calamine

    try:
        package = zipfile.ZipFile(io.BytesIO(content))
        package.getinfo("xl/workbook.xml")
    except KeyError:
        raise GravelbookError(f"{path} is not a workbook (.xlsx), whatever its name says. {ADVICE}") from None
    except zipfile.BadZipFile:
        raise GravelbookError(
            f"{path} is cut off or damaged, so it cannot be read. Save it again or copy it anew."
        ) from None
    try:
        return python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content)), package
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as fault:  # the reader is compiled, and its own failures are not of class Exception
        raise GravelbookError(f"{path} is damaged ({fault}). Save it again or copy it anew.") from None
