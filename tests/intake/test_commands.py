"""The commands: what they print, where, and with which exit status."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from registry.intake.commands import intake
from registry.schema.errors import GravelbookError
from registry.store.registry import Registry
from tests.intake.books import CASE, IDENTITY, with_cell, write_book


def run(registry: Registry, *words: str) -> Result:
    return CliRunner().invoke(intake, [*words, "--registry", str(registry.location.file)], catch_exceptions=False)


def test_template_check_load_and_write(registry: Registry, tmp_path: Path) -> None:
    made = CliRunner().invoke(intake, ["template", str(tmp_path / "t.xlsx")], catch_exceptions=False)
    assert (made.exit_code, (tmp_path / "t.xlsx").exists()) == (0, True)
    book = str(write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}))
    head = registry.head()
    checked = run(registry, "check", book)
    assert checked.exit_code == 0
    assert "new rows, 0 already there" in checked.stdout
    assert registry.head() == head
    loaded = run(registry, "load", book, "--by-whom", "data manager", "--reason", "first")
    assert loaded.exit_code == 0
    assert "as batch 1" in loaded.stdout
    assert "this very file was loaded before" in run(registry, "load", book).stdout
    written = run(registry, "write", str(tmp_path / "w.xlsx"))
    assert written.exit_code == 0
    again = run(registry, "load", str(tmp_path / "w.xlsx"))
    assert "already there, none new." in again.stdout


@pytest.mark.parametrize("output_format", ["text", "csv", "json"])
def test_check_lists_every_problem_in_each_format(output_format: str, registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", with_cell("stone", "length_mm", "long"))
    ran = run(registry, "check", str(book), "--format", output_format)
    assert ran.exit_code == 1
    if output_format == "json":
        found = json.loads(ran.stdout)
        assert found["counts"]["error"] == 1
        lines = [f for f in found["findings"] if f["severity"] == "error"]
    elif output_format == "csv":
        lines = [f for f in csv.DictReader(io.StringIO(ran.stdout)) if f["severity"] == "error"]
    else:
        assert "1 error, 0 questions" in ran.stdout
        lines = [line for line in ran.stdout.splitlines() if line.startswith("error")]
        assert "Stone!E2" in lines[0]
        return
    assert len(lines) == 1
    assert (lines[0]["sheet"], str(lines[0]["row"]), lines[0]["column"]) == ("Stone", "2", "E")
    assert (lines[0]["file"], lines[0]["value"], lines[0]["rule"]) == ("b.xlsx", "long", "stone.length_mm.type")


def test_load_with_an_error_loads_nothing(registry: Registry, tmp_path: Path) -> None:
    head = registry.head()
    ran = run(registry, "load", str(write_book(tmp_path / "b.xlsx", with_cell("stone", "length_mm", "long"))))
    assert ran.exit_code == 1
    assert "Nothing was loaded" in ran.stdout
    assert registry.head() == head


def test_load_answers_in_json(registry: Registry, tmp_path: Path) -> None:
    book = str(write_book(tmp_path / "b.xlsx", CASE))
    said = json.loads(run(registry, "load", book, "--format", "json").stdout)
    assert (said["batch_id"], said["errors"], said["new"]["patient"]) == (1, 0, 2)
    assert json.loads(run(registry, "load", book, "--format", "json").stdout)["seen_before"] is True


def test_a_faulty_file_is_an_error_in_words(registry: Registry, tmp_path: Path) -> None:
    with pytest.raises(GravelbookError, match="There is no file"):
        run(registry, "check", str(tmp_path / "no.xlsx"))


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys, registry.intake.commands as c\n"
        "c.intake.main(['--help'], standalone_mode=False)\n"
        "heavy = {'pandas', 'sqlalchemy', 'openpyxl', 'python_calamine'} & set(sys.modules)\n"
        "sys.exit(','.join(sorted(heavy)) or 0)"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    assert "template" in ran.stdout
