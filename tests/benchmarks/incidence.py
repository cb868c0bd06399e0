"""Aalen-Johansen with limits on a million times, against one bare pass in numpy and against lifelines."""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.pairs import in_turn, measure, ours, yardstick
from tests.benchmarks.results import Line

OF_BARE, OF_LIBRARY = 3.0, 0.05


def incidence(folder: Path, *, rows: int = 1_000_000, fewer: int = 100_000, pairs: int = 5) -> list[Line]:
    """Two causes in whole days; the library at fewer rows, as it takes some twenty seconds a million."""
    with tempfile.TemporaryDirectory(dir=folder) as many, tempfile.TemporaryDirectory(dir=folder) as few:
        measure(ours("incidence", many, "draw", rows))
        measure(ours("incidence", few, "draw", fewer))
        found = in_turn(
            {
                "ours": lambda: measure(ours("incidence", many)),
                "weeks": lambda: measure(ours("incidence", many, "weeks")),
                "bare": lambda: measure(yardstick("bare_incidence", many)),
                "ours on few": lambda: measure(ours("incidence", few)),
                "library": lambda: measure(yardstick("lifelines_incidence", few)),
            },
            pairs,
        )
    named, note, one = "cumulative incidence", "ours with error and limits of both causes", "lifelines: one cause"
    return [
        Line(f"{named}, {rows:,} rows: against one bare pass", found["ours"], found["bare"], OF_BARE, note=note),
        Line(f"{named}, {fewer:,} rows: to lifelines", found["ours on few"], found["library"], OF_LIBRARY, note=one),
        Line(f"{named}, {rows:,} rows: in parts of weeks, sorted", found["weeks"], found["bare"]),
    ]  # fmt: skip
