"""``intake check --marked`` and ``intake load --accept-good-rows``: what they say, write and return."""

from __future__ import annotations

import copy
import json
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from registry.intake.commands import intake
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry
from tests.intake.books import CASE, IDENTITY, Rows, put, with_cell, write_book
from tests.intake.problems.mending import mend


def run(registry: Registry, *words: object) -> Result:
    line = [*map(str, words), "--registry", str(registry.location.file)]
    return CliRunner().invoke(intake, line, catch_exceptions=False)


def one_wrong() -> Rows:
    rows = {**copy.deepcopy(CASE), **copy.deepcopy(IDENTITY)}
    return with_cell("complication", "what", "a fever", rows=rows)


def test_check_writes_a_marked_copy(registry: Registry, tmp_path: Path) -> None:
    book, head = write_book(tmp_path / "b.xlsx", one_wrong()), registry.head()
    ran = run(registry, "check", book, "--marked", tmp_path / "copy.xlsx")
    assert ran.exit_code == 1
    assert f"Wrote {tmp_path / 'copy.xlsx'}, a copy with every finding at its cell." in ran.stdout
    assert openpyxl.load_workbook(tmp_path / "copy.xlsx").sheetnames[-1] == "problems"
    assert registry.head() == head
    with pytest.raises(GravelbookError, match="is there already and was left as it is"):
        run(registry, "check", book, "--marked", tmp_path / "copy.xlsx")
    again = run(registry, "check", book, "--marked", tmp_path / "copy.xlsx", "--overwrite", "--format", "json")
    assert json.loads(again.stdout)["counts"]["error"] == 1
    assert "Wrote" in again.stderr


def test_until_nothing_is_left(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", one_wrong())
    first = run(registry, "load", book, "--accept-good-rows", tmp_path / "rejected.xlsx")
    assert first.exit_code == 1
    assert "rows (1 operation) of b.xlsx as batch 1." in first.stdout
    assert (
        "1 row of the file was rejected and stands in rejected.xlsx with the reasons: mend them there and load that "
        "file in the same way, until nothing is left." in first.stdout
    )
    assert "error" in first.stdout
    mended = mend(tmp_path / "rejected.xlsx", {("Complication", 2, "what"): "fever"}, tmp_path / "mended.xlsx")
    second = run(registry, "load", mended, "--accept-good-rows", tmp_path / "left.xlsx")
    assert second.exit_code == 0
    assert "Loaded 1 row of mended.xlsx as batch 2" in second.stdout
    assert "None was rejected, so no workbook of rejected rows was written." in second.stdout
    assert not (tmp_path / "left.xlsx").exists()
    third = run(registry, "load", mended, "--accept-good-rows", tmp_path / "left.xlsx")
    assert third.exit_code == 0
    assert "this very file was loaded before" in third.stdout


def test_json_says_what_became_of_the_rows(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", one_wrong())
    target = tmp_path / "rejected.xlsx"
    ran = run(registry, "load", book, "--accept-good-rows", target, "--format", "json")
    said = json.loads(ran.stdout)
    assert (said["rejected"], said["files"], said["refused"]) == (1, [str(target)], False)
    assert said["loaded"]["new"]["operation"] == 1
    assert said["loaded"]["errors"] == 1


def test_what_is_not_about_a_row_is_refused_with_all_that_is_wrong(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", one_wrong())
    opened = openpyxl.load_workbook(book)
    put(opened["Patient"]["A1"], "patient no.")
    opened.save(book)
    ran = run(registry, "load", book, "--accept-good-rows", tmp_path / "rejected.xlsx")
    assert ran.exit_code == 1
    assert "Nothing was loaded: some errors of b.xlsx are not about a row" in ran.stdout
    assert "'patient no.' is not a heading of Patient." in ran.stdout
    assert not (tmp_path / "rejected.xlsx").exists()


def test_a_file_without_rows_is_refused(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", {"patient": []})
    with pytest.raises(GravelbookError, match="holds no rows"):
        run(registry, "load", book, "--accept-good-rows", tmp_path / "rejected.xlsx")
