"""Files that cannot be read as a whole: one paragraph each."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from registry.schema.errors import GravelbookError
from tests.intake.logs.reading.files import HEADINGS, ROWS, book, read_file

COMPOUND = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def other_archive(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")


def cut_off(path: Path) -> None:
    whole = book(path.parent, [HEADINGS, *ROWS]).read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


FILES: dict[str, tuple[Callable[[Path], Any], str]] = {
    "not there": (lambda path: None, "There is no file"),
    "folder": (lambda path: path.mkdir(), "is a folder"),
    "no bytes": (lambda path: path.write_bytes(b""), "is empty"),
    "blanks alone": (lambda path: path.write_bytes(b" \r\n \r\n"), "is empty"),
    "delimiters alone": (lambda path: path.write_bytes(b",,,\r\n,,,\r\n"), "holds no cells"),
    "protected": (lambda path: path.write_bytes(COMPOUND + "EncryptedPackage".encode("utf-16-le")), "by a password"),
    "old format": (lambda path: path.write_bytes(COMPOUND + b"Workbook"), "old .xls format"),
    "other archive": (other_archive, "is not a workbook"),
    "cut off": (cut_off, "is cut off or damaged"),
    "web page": (lambda path: path.write_bytes(b"\r\n<HTML><table><tr><td>MRN"), "is a web page"),
    "printed": (lambda path: path.write_bytes(b"%PDF-1.7\n%\xe2\xe3"), "is a PDF"),
    "no headings": (
        lambda path: path.write_bytes(b"007,2024-05-03,left\n008,2024-06-01,right\n"),
        "looks like headings",
    ),
    "open quotes": (lambda path: path.write_bytes(b'MRN,Side\n007,"left\n008,right\n'), "line 2: a quotation mark"),
    "no letters": (lambda path: path.write_bytes(b"MRN,Side\n007,l\x81ft\n"), "neither UTF-8 nor Windows-1252 .line 2"),
    "cut UTF-8": (lambda path: path.write_bytes(b"\xef\xbb\xbfMRN,Side\n007,l\xe9ft\n"), "line 2 holds bytes"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read_is_one_paragraph(name: str, tmp_path: Path) -> None:
    make, words = FILES[name]
    path = tmp_path / "theatre.csv"
    make(path)
    with pytest.raises(GravelbookError, match=words) as raised:
        read_file(path)
    assert "theatre.csv" in str(raised.value)
    assert "\n" not in str(raised.value)


def test_an_empty_workbook(tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match="holds no cells"):
        read_file(book(tmp_path, []))


def test_the_bytes_tell_what_a_file_is_whatever_its_name(tmp_path: Path) -> None:
    path = book(tmp_path, [HEADINGS, *ROWS]).rename(tmp_path / "log.csv")
    file, _ = read_file(path)
    assert file.sheets[0].title == "log"
    assert file.name == "log.csv"
