"""How long another program waits for its turn to write while a workbook is loaded."""

from __future__ import annotations

from pathlib import Path
from statistics import median

from tests.benchmarks.pairs import Measured, measure, ours
from tests.benchmarks.registries import workbook_of
from tests.benchmarks.results import Line


def waiting(folder: Path, *, operations: int = 10_000, pairs: int = 3) -> list[Line]:
    """The load, its neighbour's longest wait and its usual one."""
    workbook = workbook_of(operations, folder)
    runs = [measure(ours("waiting", workbook)) for _ in range(pairs)]
    named = f"load of {operations:,} operations with a writer beside it"
    rows = median(run.told["others"] for run in runs)
    return [
        Line(named, [Measured(run.told["load"], run.peak_mb) for run in runs], note=f"{rows:,.0f} rows of the other"),
        Line("  the other's longest wait", [Measured(run.told["longest"], run.peak_mb) for run in runs]),
        Line("  the other's usual row", [Measured(run.told["typical"], run.peak_mb) for run in runs]),
    ]
