"""The cohort, when nothing is there yet and when the registry has not changed, against plain SQL read by pandas."""

from __future__ import annotations

import shutil
from pathlib import Path
from statistics import median

from tests.benchmarks.pairs import Measured, in_turn, measure, ours, yardstick
from tests.benchmarks.registries import UNIT, registry_of
from tests.benchmarks.results import Line

COLD, WARM = 1.2, 0.05


def cohort(folder: Path, *, operations: int = 100_000, unit: int = UNIT, pairs: int = 5) -> list[Line]:
    """Registry to cohort frame and outcome frames; the yardstick makes one frame of comparable content."""
    file = registry_of(operations, folder, unit=unit)

    def cold() -> Measured:
        shutil.rmtree(file.with_name(f"{file.name}.snapshots"), ignore_errors=True)
        return measure(ours("cohort", file))

    found = in_turn(
        {
            "yardstick": lambda: measure(yardstick("sql_to_pandas", file)),
            "cold": cold,
            "warm": lambda: measure(ours("cohort", file)),
        },
        pairs,
    )
    snapshot = [Measured(run.told["snapshot"], run.peak_mb) for run in found["cold"]]
    sides = median(run.told["rows"] for run in found["warm"])
    named = f"cohort, {operations:,} operations"
    return [
        Line(f"{named}: cold", found["cold"], found["yardstick"], COLD, note=f"{sides:,.0f} sides"),
        Line(
            f"{named}: its snapshot alone", snapshot, found["yardstick"], note="all tables, not only those of the query"
        ),
        Line(f"{named}: unchanged", found["warm"], found["yardstick"], WARM),
    ]
