"""The ratio model in resamples of patients.

    python -m tests.benchmarks.measured.ratio_bootstrap FOLDER REPLICATES SEED SHOWN WORKERS

The estimates of the first SHOWN are told. WORKERS 0: one a core.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import statsmodels.api  # noqa: F401  (loaded before the clock starts, as the yardsticks' libraries are)

from analysis.estimators.regression.cluster_bootstrap import bootstrap_logistic
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    folder, (replicates, seed, shown, workers) = Path(sys.argv[1]), map(int, sys.argv[2:])
    with np.load(folder / "arrays.npz") as inputs:
        y, x, patient = inputs["y"], inputs["x"], inputs["patient"]
    names = [f"b{at}" for at in range(x.shape[1])]
    watch = Stopwatch()
    made = bootstrap_logistic(y, x, names, cluster=patient, seed=seed, replicates=replicates, workers=workers or None)
    watch.lap("bootstrap")
    first = {f"d{at}": float(value) for at, value in enumerate(made.draws[:shown, 1])}
    watch.say(**first, replicates=replicates, lost=sum(made.lost.values()))


if __name__ == "__main__":
    main()
