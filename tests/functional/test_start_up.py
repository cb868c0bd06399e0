"""What the command line loads before it is asked to do anything: nothing heavy; and commands of a unit's own."""

from __future__ import annotations

import os
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from registry.command_line import gravelbook
from registry.installed import installed_commands, version

HEAVY = (
    "pandas",
    "numpy",
    "scipy",
    "statsmodels",
    "matplotlib",
    "duckdb",
    "pyarrow",
    "sqlalchemy",
    "great_expectations",
    "openpyxl",
    "importlib.metadata",
)
ROOT = Path(__file__).parents[2]

SHOWN = """
import sys
from registry.command_line import main
try:
    main(sys.argv[1:])
except SystemExit as left:
    assert not left.code, left.code
print(*sys.modules, sep="\\n", file=sys.stderr)
"""


def loaded_after(*arguments: str) -> tuple[str, set[str]]:
    """What a fresh process printed, and the modules it then held."""
    done = subprocess.run(
        [sys.executable, "-c", SHOWN, *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout, set(done.stderr.split())


def subcommands() -> list[tuple[str, ...]]:
    """Every command as it is typed, groups and what is in them."""
    found: list[tuple[str, ...]] = []
    for name in sorted(installed_commands()):
        found.append((name,))
        command = gravelbook.get_command(None, name)  # type: ignore[attr-defined]
        found += [(name, inner) for inner in sorted(getattr(command, "commands", {}))]
    return found


@pytest.mark.parametrize("asked", [("--help",), ("--version",), *((*c, "--help") for c in subcommands())], ids=" ".join)
def test_asking_for_help_loads_nothing_heavy(asked: tuple[str, ...]) -> None:
    said, modules = loaded_after(*asked)
    assert said.strip()
    assert "click" in modules
    assert sorted(modules.intersection(HEAVY)) == []


def test_the_commands_are_those_that_the_installer_recorded() -> None:
    recorded = {point.name: point.value for point in entry_points(group="gravelbook.commands")}
    assert recorded
    assert installed_commands() == recorded
    assert version() == __import__("importlib.metadata").metadata.version("gravelbook")


@pytest.fixture
def own_package(tmp_path: Path) -> dict[str, str]:
    """The environment of a unit that has installed a package with a command of its own."""
    (tmp_path / "larkspur.py").write_text(
        'import click\n\n\n@click.command()\ndef tally():\n    """Count the unit\'s own things."""\n'
        '    click.echo("seven")\n',
        encoding="utf-8",
    )
    record = tmp_path / "larkspur_tools-2.1.dist-info"
    record.mkdir()
    (record / "METADATA").write_text("Metadata-Version: 2.1\nName: larkspur-tools\nVersion: 2.1\n", encoding="utf-8")
    (record / "entry_points.txt").write_text(
        "[console_scripts]\nlarkspur = larkspur:tally\n\n# ours\n[gravelbook.commands]\ntally = larkspur:tally\n",
        encoding="utf-8",
    )
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(tmp_path)])}


def test_a_unit_can_add_a_command_in_a_package_of_its_own(own_package: dict[str, str], tmp_path: Path) -> None:
    def said(*arguments: str) -> str:
        command = [sys.executable, "-c", "from registry.command_line import main; main()", *arguments]
        return subprocess.run(command, env=own_package, cwd=tmp_path, capture_output=True, text=True, check=True).stdout

    listed = said("--help").splitlines()
    assert listed[-1].split()[0] == "tally"  # behind the program's own
    assert "Count the unit's own things." in listed[-1]
    assert said("tally") == "seven\n"


def test_a_command_in_an_archive_is_found_too(own_package: dict[str, str], tmp_path: Path) -> None:
    import zipfile

    archive = tmp_path / "archive" / "larkspur.zip"
    archive.parent.mkdir()
    with zipfile.ZipFile(archive, "w") as out:
        for path in (
            "larkspur.py",
            "larkspur_tools-2.1.dist-info/METADATA",
            "larkspur_tools-2.1.dist-info/entry_points.txt",
        ):
            out.write(tmp_path / path, path)
    own_package["PYTHONPATH"] = os.pathsep.join([str(ROOT), str(archive)])
    command = [sys.executable, "-c", "from registry.command_line import main; main()", "tally"]
    done = subprocess.run(command, env=own_package, cwd=archive.parent, capture_output=True, text=True, check=True)
    assert done.stdout == "seven\n"
