"""The contributor's guide shows how to add a field; what it shows is done here, on a copy of the project."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DECLARED_IN = "registry/schema/operations.py"
REVISION = "migrations/versions/0011_pack_years.py"

OLD_ROWS = """
from registry.store.registry import create_registry
from tests.store.filled import fill
with create_registry("unit.db") as registry, registry.writing(by="x", reason="rows") as door:
    fill(door)
"""

NEW_FIELD = """
import pandas, zipfile
from registry.schema.dictionary import entries
from registry.schema.sheets import sheets
from registry.store.registry import open_registry
from registry.store.reading import read_frame
from registry.schema.errors import GravelbookError
with open_registry("unit.db") as registry:
    with registry.writing(by="x", reason="try") as door:
        door.update("operation", 1, {"pack_years": 12.5}, revision=1)
    assert read_frame(registry, "operation")["pack_years"].tolist()[0] == 12.5
    try:
        with registry.writing(by="x", reason="try") as door:
            door.update("operation", 2, {"pack_years": 301}, revision=1)
    except GravelbookError as refused:
        print("REFUSED", refused)
found = next(entry for entry in entries() if entry["field"] == "pack_years")
print("DICTIONARY", found["limits"], found["help"])
print("SHEET", "pack_years" in next(s for s in sheets() if s.table == "operation").headings)
"""


def shown(start: str) -> str:
    """The fenced Python block of the guide that begins with some words."""
    blocks = re.findall(r"^```python\n(.*?)^```$", GUIDE, flags=re.M | re.S)
    return next(block for block in blocks if block.startswith(start))


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The project with the guide's declaration and revision put in, and a registry of the shape before."""
    folder = tmp_path_factory.mktemp("project")
    for name in ("registry", "migrations", "tests", "analysis", "synthetic_cohort"):
        shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", folder)
    python(folder, OLD_ROWS)
    declared = folder / DECLARED_IN
    text = declared.read_text(encoding="utf-8")
    after = re.search(r"    performance_status: .*?\n    \)\n|    performance_status: [^\n]*\)\n", text, flags=re.S)
    assert after is not None
    declared.write_text(text[: after.end()] + shown("    pack_years") + text[after.end() :], encoding="utf-8")
    (folder / REVISION).write_text(shown('"""Pack-years'), encoding="utf-8")
    return folder


def python(folder: Path, *arguments: str) -> str:
    """Run Python on the copy; a script, or the arguments as they are."""
    call = ["-c", arguments[0]] if len(arguments) == 1 else list(arguments)
    environment = {**os.environ, "PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, *call], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_guides_field_reaches_every_place_that_is_derived(copy: Path) -> None:
    cli = "from registry.command_line import main; main({})"
    upgraded = python(copy, cli.format(["store", "upgrade", "--registry", "unit.db"]))
    assert "0011_pack_years" in upgraded
    said = python(copy, NEW_FIELD)
    assert "SHEET True" in said
    assert "DICTIONARY 0 to 300 pack-years 20 a day for a year is 1" in said
    assert "REFUSED" in said and "0 to 300" in said
    python(copy, cli.format(["store", "verify", "--registry", "unit.db"]))
    template = python(copy, cli.format(["intake", "template", "unit.xlsx"]))
    assert "unit.xlsx" in template


def test_the_guides_revision_has_not_drifted_from_its_declaration(copy: Path) -> None:
    python(copy, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-k", "sqlite", "tests/migrations/test_drift.py")


def test_down_parks_the_values_and_up_brings_them_back(copy: Path) -> None:
    python(
        copy,
        """
from registry.store.registry import open_registry
from registry.store.reading import read_frame
from registry.store.upgrading import upgrade_registry
upgrade_registry("unit.db")
with open_registry("unit.db") as registry:
    with registry.writing(by="x", reason="try") as door:
        revision = int(read_frame(registry, "operation").set_index("id").loc[2, "revision"])
        door.update("operation", 2, {"pack_years": 40.5}, revision=revision)
    before = read_frame(registry, "operation")
upgrade_registry("unit.db", target="0010_sources_and_quality_runs")
upgrade_registry("unit.db")
with open_registry("unit.db") as registry:
    assert read_frame(registry, "operation").equals(before)
""",
    )
