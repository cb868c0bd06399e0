"""The README's commands are real, its examples run, and every command is described."""

from __future__ import annotations

import re
import subprocess
import sys
from importlib.metadata import entry_points
from pathlib import Path

import click
import pytest

from analysis.cohort.rules import read_rules
from analysis.reports.stone_free_scans.detection_file import detection_table
from tests.readme_blocks import fenced_blocks, readme_command

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def commands() -> list[tuple[str, click.Command]]:
    """Every command and subcommand with its full name."""
    return [each for point in entry_points(group="gravelbook.commands") for each in below(point.name, point.load())]


def below(name: str, command: click.Command) -> list[tuple[str, click.Command]]:
    """A command and all of its subcommands, however deep."""
    subs = command.commands.items() if isinstance(command, click.Group) else ()
    return [(name, command)] + [each for sub, its in subs for each in below(f"{name} {sub}", its)]


def test_the_first_two_blocks_set_up_and_run_the_demo_and_the_tests() -> None:
    assert readme_command("demo").splitlines() == [readme_command("demo")], "one line to copy"
    assert readme_command("demo").endswith("gravelbook demo")
    assert readme_command("tests").endswith("-m pytest -n auto")


@pytest.mark.parametrize(("name", "command"), commands(), ids=lambda value: value if isinstance(value, str) else "")
def test_every_command_and_option_explains_itself(name: str, command: click.Command) -> None:
    assert command.help, f"{name} has no help"
    if not isinstance(command, click.Group):
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.help, f"{name} {parameter.opts[0]} has no help"


def test_every_example_line_names_a_real_command_and_real_options() -> None:
    known = dict(commands())
    lines = [line for block in fenced_blocks(ROOT / "README.md")[2:] for line in block.splitlines()]
    asked = [line.split()[1:] for line in lines if line.startswith("gravelbook ")]
    assert asked
    for words in asked:
        name = next(n for k in range(len(words), 0, -1) if (n := " ".join(words[:k])) in known)
        assert not isinstance(known[name], click.Group), f"README: gravelbook {' '.join(words)} names no command"
        options = {option for parameter in known[name].params for option in parameter.opts}
        for word in words:
            if word.startswith("--"):
                assert word in options, f"README: gravelbook {name} has no option {word}"


def test_the_files_shown_in_the_readme_can_be_read(tmp_path: Path) -> None:
    rules, detection = re.findall(r"^```toml\n(.*?)\n```$", README, flags=re.M | re.S)
    file = tmp_path / "shown.toml"
    file.write_text(rules, encoding="utf-8")
    assert read_rules(file)
    file.write_text(detection, encoding="utf-8")
    assert detection_table(file).rows


def test_help_needs_no_heavy_library() -> None:
    heavy = [
        "pandas",
        "numpy",
        "statsmodels",
        "matplotlib",
        "duckdb",
        "pyarrow",
        "sqlalchemy",
        "great_expectations",
        "scipy",
    ]
    script = (
        "import sys\n"
        "from registry.command_line import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {heavy!r} if name in sys.modules])"
    )
    printed = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert printed.splitlines()[-1] == "[]"
