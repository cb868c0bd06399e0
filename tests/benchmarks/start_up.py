"""How soon the command line answers that is asked for help, against loading its library alone."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from tests.benchmarks.pairs import Run, in_turn, measure, python, yardstick
from tests.benchmarks.results import Line

GOAL = 2.0
GRAVELBOOK = ("-c", "from registry.command_line import main; main()")


def start_up(folder: Path, *, pairs: int = 15) -> list[Line]:
    """Whole processes from start to end."""
    asked = {"--help": ["--help"], "--version": ["--version"], "stone-free --help": ["stone-free", "--help"]}
    runs: dict[str, Run] = {"yardstick": partial(measure, yardstick("import_click"), whole=True)}
    runs |= {name: partial(measure, python(*GRAVELBOOK, *given), whole=True) for name, given in asked.items()}
    found = in_turn(runs, pairs)
    return [Line(f"gravelbook {name}", found[name], found["yardstick"], GOAL) for name in asked]
