"""The command a unit types most, at a unit's size, as whole processes."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.benchmarks.pairs import Measured, in_turn, measure, ours, python
from tests.benchmarks.registries import registry_of
from tests.benchmarks.results import Line
from tests.benchmarks.start_up import GRAVELBOOK

LIMIT_S = 1.5


def unit_size(folder: Path, *, operations: int = 10_000, pairs: int = 5) -> list[Line]:
    """``gravelbook stone-free`` with and without a snapshot, and the imports that it needs."""
    file = registry_of(operations, folder)
    command = python(*GRAVELBOOK, "stone-free", "--registry", file)

    def cold() -> Measured:
        shutil.rmtree(file.with_name(f"{file.name}.snapshots"), ignore_errors=True)
        return measure(command, whole=True)

    found = in_turn(
        {
            "cold": cold,
            "warm": lambda: measure(command, whole=True),
            "imports": lambda: measure(ours("stone_free_imports"), whole=True),
        },
        pairs,
    )
    named = f"gravelbook stone-free, {operations:,} operations"
    return [
        Line(f"{named}: cold", found["cold"]),
        Line(f"{named}: unchanged", found["warm"], limit_s=LIMIT_S),
        Line(f"{named}: of which imports", found["imports"]),
    ]
