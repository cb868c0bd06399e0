"""How a CSV file writes its letters, told from the bytes."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.schema.errors import GravelbookError
from registry.validation.findings import Severity
from tests.intake.logs.reading.files import csv_file, only, read, texts

TEXT = "MRN,Größe\n1,12 µm – naïve\n"
CELLS = [["1", "12 µm – naïve"]]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
def test_utf8_with_and_without_its_mark_needs_no_word(encoding: str, tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, TEXT, encoding))
    assert (sheet.headings, texts(sheet), found) == (["MRN", "Größe"], CELLS, [])


@pytest.mark.parametrize(
    ("encoding", "mark", "words"),
    [
        ("windows-1252", b"", "was read as Windows-1252"),
        ("utf-16-le", b"\xff\xfe", "written in UTF-16"),
        ("utf-16-be", b"\xfe\xff", "written in UTF-16"),
        ("utf-16-le", b"", "written in UTF-16"),
        ("utf-16-be", b"", "written in UTF-16"),
        ("utf-32-le", b"\xff\xfe\x00\x00", "written in UTF-32"),
    ],
)
def test_others_are_told_from_the_bytes_with_a_note(encoding: str, mark: bytes, words: str, tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, mark + TEXT.encode(encoding)))
    assert (sheet.headings, texts(sheet)) == (["MRN", "Größe"], CELLS)
    assert words in only(found, "log.encoding").why


def test_a_declared_encoding_counts_without_a_word(tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, TEXT, "mac-roman"), encoding="mac-roman")
    assert (texts(sheet), found) == (CELLS, [])
    sheet, found = read(csv_file(tmp_path, TEXT, "utf-8-sig"), encoding="utf-8")
    assert (sheet.headings[0], found) == ("MRN", [])


@pytest.mark.parametrize(
    ("encoding", "words"), [("utf-9", "no such encoding"), ("utf-8", "line 2"), ("hex", "such enc")]
)
def test_a_wrong_encoding_is_refused_in_words(encoding: str, words: str, tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match=words):
        read(csv_file(tmp_path, "MRN,Side\n1,gauche é\n", "windows-1252"), encoding=encoding)


def test_a_file_put_together_from_two_encodings_is_a_question(tmp_path: Path) -> None:
    content = "MRN,Note\n1,fièvre\n".encode("windows-1252") + "2,fièvre\n".encode()
    _, found = read(csv_file(tmp_path, content))
    assert [(f.rule, f.severity, f.row) for f in found] == [
        ("log.encoding", Severity.NOTE, None),
        ("log.encoding", Severity.QUESTION, 3),
    ]


@pytest.mark.parametrize(
    ("letter", "words"), [("\x07", "U+0007"), ("\x00", "U+0000"), ("\ufffd", "a letter that was lost")]
)
def test_a_character_that_nobody_types_is_a_question_at_the_cell(letter: str, words: str, tmp_path: Path) -> None:
    sheet, found = read(csv_file(tmp_path, f"MRN,Side,Note\n1,left,a{letter}b\n2,right,ab\n"))
    problem = only(found, "log.character", Severity.QUESTION)
    assert (problem.row, problem.column, problem.value) == (2, "C", "")
    assert words in problem.why
    assert texts(sheet)[0][2] == f"a{letter}b"
