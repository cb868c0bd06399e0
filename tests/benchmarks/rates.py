"""Stone-free rates at five thresholds by operator, year and technique, against one packed count in numpy."""

from __future__ import annotations

import tempfile
from pathlib import Path
from statistics import median

from tests.benchmarks.pairs import in_turn, measure, ours, yardstick
from tests.benchmarks.results import Line

GOAL = 3.0


def rates(folder: Path, *, rows: int = 1_000_000, pairs: int = 7) -> list[Line]:
    """The counting pass alone, and all rows with their intervals."""
    with tempfile.TemporaryDirectory(dir=folder) as drawn:
        measure(ours("rates_inputs", drawn, rows))
        found = in_turn(
            {
                "yardstick": lambda: measure(yardstick("packed_bincount", drawn)),
                "counting": lambda: measure(ours("rates", drawn, "counting")),
                "rates": lambda: measure(ours("rates", drawn, "rates")),
                "grouping": lambda: measure(ours("rates", drawn, "grouping")),
            },
            pairs,
        )
    groups = median(run.told["groups"] for run in found["rates"])
    named = f"stone-free rates, {rows:,} sides"
    note = f"{groups:,.0f} groups x 5 thresholds"
    return [
        Line(f"{named}: counting", found["counting"], found["yardstick"], GOAL, note=note),
        Line(f"{named}: with intervals", found["rates"], found["yardstick"], note="plain, clustered, adequate studies"),
        Line(f"{named}: placing in groups", found["grouping"], found["yardstick"]),
    ]
