"""The default ratio model, coded and fitted with cluster-robust errors.

python -m tests.benchmarks.measured.ratio_model FOLDER
"""

from __future__ import annotations

import sys
from pathlib import Path

import formulaic  # noqa: F401  (loaded before the clock starts, as the yardsticks' libraries are)
import pandas as pd
import statsmodels.api  # noqa: F401

from analysis.design.matrix import design_of
from analysis.estimators.regression.logistic import logistic
from tests.benchmarks.measured.ratio_inputs import terms
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    sides = pd.read_parquet(Path(sys.argv[1]) / "sides.parquet")
    of = terms(sides)
    watch = Stopwatch()
    design = design_of(sides, of, needed=["stone_free", "study_number"])
    kept = sides.iloc[design.rows]
    watch.lap("design")
    fit = logistic(
        kept["stone_free"].to_numpy(),
        design.x,
        design.names,
        cluster=kept["study_number"].to_numpy(),
        correction="CR1S",  # as the yardstick's library does
    )
    watch.lap("fit")
    numbers = {f"b{at}": float(value) for at, value in enumerate(fit.coefficients)}
    watch.say(**numbers, error=float(fit.standard_errors[1]), columns=len(fit.names), rows=fit.n)


if __name__ == "__main__":
    main()
