"""The cohort of a registry, with its snapshot: ``python -m tests.benchmarks.measured.cohort REGISTRY_FILE``."""

from __future__ import annotations

import sys

import analysis.cohort.build
import analysis.cohort.freezing  # noqa: F401  (loaded before the clock starts, as the yardstick's libraries are)
from analysis.cohort.load import load_cohort
from analysis.cohort.snapshot import open_snapshot
from registry.store.registry import open_registry
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    watch = Stopwatch()
    with open_registry(sys.argv[1]) as registry:
        snapshot = open_snapshot(registry)
        watch.lap("snapshot")
        cohort = load_cohort(snapshot)
        watch.lap("cohort")
    watch.say(rows=len(cohort.sides_frame), columns=len(cohort.sides_frame.columns))


if __name__ == "__main__":
    main()
