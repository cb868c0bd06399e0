"""The clinical rules on all that is held, against reading the same tables; and the whole quality check."""

from __future__ import annotations

from pathlib import Path

from tests.benchmarks.pairs import in_turn, measure, ours
from tests.benchmarks.registries import UNIT, registry_of
from tests.benchmarks.results import Line


def quality(
    folder: Path, *, sizes: tuple[int, ...] = (10_000, 100_000), unit: int = UNIT, pairs: int = 5
) -> list[Line]:
    """At a unit's size and at ten times that."""
    lines = []
    for operations in sizes:
        file = registry_of(operations, folder, unit=unit)
        found = in_turn(
            {
                what: lambda what=what, file=file: measure(ours("quality", what, file))
                for what in ("read", "clinical", "all")
            },
            pairs,
        )
        named = f"{operations:,} operations"
        lines += [
            Line(f"clinical rules, {named}", found["clinical"], found["read"], note="yardstick: reading their tables"),
            Line(f"quality check, {named}", found["all"], found["read"]),
        ]
    return lines
