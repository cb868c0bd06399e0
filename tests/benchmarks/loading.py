"""Loading a workbook and writing through the door against raw inserts, and the proof of a registry in rows a second."""

from __future__ import annotations

from pathlib import Path
from statistics import median

from tests.benchmarks.pairs import Measured, in_turn, measure, ours, yardstick
from tests.benchmarks.registries import loaded_registry, workbook_of
from tests.benchmarks.results import Line


def loading(folder: Path, *, operations: int = 20_000, pairs: int = 5) -> list[Line]:
    """No goals are set here yet."""
    workbook, file = workbook_of(operations, folder), loaded_registry(operations, folder)
    found = in_turn(
        {
            "yardstick": lambda: measure(yardstick("raw_executemany", file)),
            "intake": lambda: measure(ours("loading", "intake", workbook)),
            "door": lambda: measure(ours("loading", "door", file)),
            "verify": lambda: measure(ours("loading", "verify", file)),
        },
        pairs,
    )
    named = f"{operations:,} operations"
    return [
        Line(f"load, {named}: workbook", found["intake"], found["yardstick"], note=_speed(found["intake"])),
        Line(f"load, {named}: write door alone", found["door"], found["yardstick"], note=_speed(found["door"])),
        Line(f"store verify, {named}", found["verify"], found["yardstick"], note=_speed(found["verify"])),
    ]


def _speed(runs: list[Measured]) -> str:
    return f"{median(run.told['rows'] / run.seconds for run in runs):,.0f} rows/s"
