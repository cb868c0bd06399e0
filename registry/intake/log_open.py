"""Opening a log: every fault of the file as a whole is said in one paragraph."""

from __future__ import annotations

from pathlib import Path

from registry.schema.errors import GravelbookError

_COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # Microsoft's compound file: encrypted workbooks and the old .xls
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_PACKAGE = b"PK"
_ADVICE = "Open it in the spreadsheet program, save it as .xlsx without a password, or as CSV, and give that file."
# Hospital systems call web pages .xls, and people give the printed log.
_OTHERS = {b"%PDF": "a PDF", b"\x89PNG": "a picture", b"\xff\xd8\xff": "a picture", b"{\\rtf": "a letter (RTF)"}
_WEB = (b"<html", b"<!doctype", b"<?xml", b"<table")
_START = 512


def log_bytes(path: Path) -> bytes:
    """The bytes of a file that is a CSV file or an XLSX workbook by its looks.

    Args:
        path: the file; the bytes tell what it is, not its name.

    Raises:
        GravelbookError: it is not there, a folder, empty, protected, in an old format or something else.
    """
    if path.is_dir():
        raise GravelbookError(f"{path} is a folder. Give the log itself, a file that ends in .csv or .xlsx.")
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise GravelbookError(f"There is no file {path}. Look at the name and the folder.") from None
    except OSError as fault:
        raise GravelbookError(
            f"{path} could not be read: {fault.strerror}. Close it elsewhere or ask for the right to read it."
        ) from None
    if not content.strip():
        raise GravelbookError(f"{path} is empty: there is nothing in it. Save it again or copy it anew.")
    if content.startswith(_COMPOUND):
        why = "is protected by a password" if _ENCRYPTED in content else "is in the old .xls format"
        raise GravelbookError(f"{path} {why}, so it cannot be read. {_ADVICE}")
    start = content[:_START].lstrip(b"\xef\xbb\xbf \t\r\n")
    what = next((words for mark, words in _OTHERS.items() if start.startswith(mark)), None)
    if start.lower().startswith(_WEB):
        what = "a web page or XML"
    if what:
        raise GravelbookError(f"{path} is {what}, whatever its name says, not a CSV file or workbook. {_ADVICE}")
    return content


def is_workbook(content: bytes) -> bool:
    """Whether the bytes are those of a package, as an XLSX workbook is; else they are taken for text."""
    return content.startswith(_PACKAGE)
