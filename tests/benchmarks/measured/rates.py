"""Stone-free rates of a million sides: ``python -m tests.benchmarks.measured.rates FOLDER counting|rates``."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from analysis.reports.request.grouping import grouped
from analysis.reports.request.splits import Split
from analysis.reports.stone_free.packed import AskedThreshold, Packed
from analysis.reports.stone_free.rates import cells_of, counts_of, stone_free_rates
from analysis.reports.stone_free.request import read_request
from tests.benchmarks.measured.rates_inputs import THRESHOLDS
from tests.benchmarks.measured.stopwatch import Stopwatch

BY = ("operator", "year", "technique")


def main() -> None:
    with np.load(Path(sys.argv[1]) / "inputs.npz") as inputs:
        held = {name: inputs[name] for name in inputs.files}
    rows = np.arange(len(held["pattern"]))
    asked = read_request({"threshold": THRESHOLDS}).definition.thresholds
    units = Packed(
        thresholds=tuple(AskedThreshold(one.code, float(one.value_mm), one.comparison) for one in asked),
        unit_id=rows,
        operation_id=rows,
        side_id=rows,
        **{name: held[name] for name in ("patient", "pattern", "status", "rung", "modality", "failed_inadequate")},
    )
    sides = pd.DataFrame({"side_id": rows, **{name: pd.Categorical(held[name]) for name in BY}})
    if sys.argv[2] == "grouping":
        watch = Stopwatch()
        grouping = grouped(units.side_id, units.inside(), sides, [Split(name) for name in BY])
        watch.say(groups=len(grouping))
        return
    grouping = grouped(units.side_id, units.inside(), sides, [Split(name) for name in BY])
    watch = Stopwatch()
    if sys.argv[2] == "counting":
        counted = counts_of(units, cells_of(units, grouping))
        watch.say(groups=len(grouping), eligible=int(counted["eligible"][:, 0].sum()))
    else:
        found = stone_free_rates(units, grouping)
        watch.say(groups=len(grouping), rows=len(found))


if __name__ == "__main__":
    main()
