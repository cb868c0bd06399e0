"""Cumulative incidence with its error: ``python -m tests.benchmarks.measured.incidence FOLDER [weeks | draw ROWS]``."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from analysis.estimators.survival.cumulative_incidence import cumulative_incidence
from tests.benchmarks.measured.stopwatch import Stopwatch

YEARS = 10


def main() -> None:
    folder = Path(sys.argv[1])
    asked = sys.argv[2] if len(sys.argv) > 2 else ""
    if asked == "draw":
        watch, rng, rows = Stopwatch(), np.random.default_rng(1), int(sys.argv[3])
        day = np.ceil(np.minimum(rng.exponential(2000, rows), rng.uniform(1, 365 * YEARS, rows)))
        np.savez(folder / "times.npz", time=day, cause=rng.choice(3, rows, p=(0.5, 0.35, 0.15)))
        watch.say(rows=rows)
        return
    with np.load(folder / "times.npz") as inputs:
        day, cause = inputs["time"], inputs["cause"]
    time = day / 7 if asked == "weeks" else day
    watch = Stopwatch()
    found = cumulative_incidence(time, cause)
    watch.say(last=float(found.incidence[0, -1]), times=len(found.time))


if __name__ == "__main__":
    main()
