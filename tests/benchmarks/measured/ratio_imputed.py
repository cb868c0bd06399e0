"""Imputation by chained equations, the model of each completed data set, and all pooled.

python -m tests.benchmarks.measured.ratio_imputed FOLDER IMPUTATIONS CYCLES
"""

from __future__ import annotations

import sys
from pathlib import Path

import formulaic  # noqa: F401  (loaded before the clock starts, as the yardstick's libraries are)
import pandas as pd
import statsmodels.api  # noqa: F401

from analysis.design.matrix import design_of
from analysis.design.terms import Term
from analysis.estimators.chained_equations import Kind, chained_equations
from analysis.estimators.pooled_regression import pooled_fit
from analysis.estimators.regression.logistic import logistic
from tests.benchmarks.measured.stopwatch import Stopwatch


def main() -> None:
    folder, (imputations, cycles) = Path(sys.argv[1]), map(int, sys.argv[2:])
    sides = pd.read_parquet(folder / "gaps.parquet")
    kinds: dict[str, Kind] = {name: "binary" if sides[name].nunique() == 2 else "numeric" for name in sides}
    terms = [Term(column=name) for name in sides.columns if name != "stone_free"]
    y = sides["stone_free"].to_numpy()
    watch = Stopwatch()
    made = chained_equations(sides, kinds, seed=1, imputations=imputations, cycles=cycles)
    watch.lap("imputed")
    fits = []
    for number in range(imputations):
        design = design_of(made.completed(number), terms)
        fits.append(logistic(y, design.x, design.names))
    pooled = pooled_fit(fits)
    watch.lap("fitted")
    numbers = {f"b{at}": float(value) for at, value in enumerate(pooled.coefficients)}
    errors = {f"e{at}": float(value) for at, value in enumerate(pooled.covariance.diagonal() ** 0.5)}
    watch.say(**numbers, **errors, columns=len(terms) + 1, rows=len(sides))


if __name__ == "__main__":
    main()
