"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.reports.whole_file import write_whole
from registry.schema.errors import GravelbookError


def test_a_file_is_written_and_written_over(tmp_path: Path):
    target = tmp_path / "figure.svg"
    write_whole(target, b"one")
    write_whole(target, b"two")
    assert target.read_bytes() == b"two"
    assert [path.name for path in tmp_path.iterdir()] == ["figure.svg"]


def test_what_holds_cases_is_for_this_account_alone(tmp_path: Path):
    target = tmp_path / "cases.csv"
    write_whole(target, b"one", private=True)
    assert target.stat().st_mode & 0o077 == 0


def test_a_folder_that_is_not_there_is_said_in_a_paragraph(tmp_path: Path):
    with pytest.raises(GravelbookError, match="cannot be written: no such file or directory"):
        write_whole(tmp_path / "nowhere" / "figure.svg", b"one")


def test_a_folder_is_not_written_over(tmp_path: Path):
    with pytest.raises(GravelbookError, match="is a folder"):
        write_whole(tmp_path, b"one")
    assert list(tmp_path.iterdir()) == []
