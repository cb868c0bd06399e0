"""Draws a million sides with their statuses and groups, for rates and yardstick alike.

    python -m tests.benchmarks.measured.rates_inputs FOLDER ROWS

The statuses are those of an invented unit under five thresholds, worked out by the rule and drawn from again and
again; operator, year and technique are drawn evenly, which fills every one of the 2,400 groups.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status
from analysis.reports.stone_free.packed import packed
from analysis.reports.stone_free.request import read_request
from synthetic_cohort.analysis_inputs import analysis_inputs
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from tests.benchmarks.measured.stopwatch import Stopwatch

THRESHOLDS = "0,2,3,4,5"
OPERATORS, YEARS, TECHNIQUES = 40, 10, 6
SIDES_A_PATIENT = 1.2


def main() -> None:
    folder, rows = Path(sys.argv[1]), int(sys.argv[2])
    watch = Stopwatch()
    definition = read_request({"threshold": THRESHOLDS}).definition
    units = packed(
        stone_free_status(Tables(**analysis_inputs(cohort(Parameters(), 2_000, seed=1))), definition),
        definition.thresholds,
    )
    rng = np.random.default_rng(1)
    drawn = rng.integers(units.units, size=rows)
    np.savez(
        folder / "inputs.npz",
        pattern=units.pattern[drawn],
        patient=rng.integers(max(1, int(rows / SIDES_A_PATIENT)), size=rows),
        operator=rng.integers(OPERATORS, size=rows),
        year=rng.integers(YEARS, size=rows),
        technique=rng.integers(TECHNIQUES, size=rows),
        status=units.status,
        rung=units.rung,
        modality=units.modality,
        failed_inadequate=units.failed_inadequate,
        free=units.is_status("free"),
        known=units.is_status("free", "failed"),
    )
    watch.say(patterns=units.patterns)


if __name__ == "__main__":
    main()
