"""Yardstick: resamples of patients, the model fitted anew to the rows of each, by arrays or by the formula.

    python logit_refits.py FOLDER_OF_INPUTS arrays|formula RUN REPLICATES SEED

RUN resamples are fitted, the time is told as of REPLICATES.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
import statsmodels.formula.api as smf
from logit_formula import FORMULA, TERMS


def main() -> None:
    folder, way, (run, replicates, seed) = Path(sys.argv[1]), sys.argv[2], map(int, sys.argv[3:])
    with np.load(folder / "arrays.npz") as inputs:
        y, x, patient = inputs["y"], inputs["x"], inputs["patient"]
    sides = pd.read_parquet(folder / "sides.parquet").dropna().reset_index(drop=True)
    generator = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed).spawn(1)[0]))
    started = time.perf_counter()
    patients, code = np.unique(patient, return_inverse=True)
    drawn = []
    for _ in range(run):
        times = np.bincount(generator.integers(0, len(patients), len(patients)), minlength=len(patients))
        rows = np.repeat(np.arange(len(y)), times[code])
        if way == "arrays":
            drawn.append(sm.Logit(y[rows], x[rows]).fit(disp=0).params[1])
        else:
            drawn.append(smf.logit(FORMULA, sides.iloc[rows]).fit(disp=0).params[TERMS[0]])
    seconds = (time.perf_counter() - started) / run * replicates
    print(json.dumps({"seconds": seconds, **{f"d{at}": float(value) for at, value in enumerate(drawn)}}))


if __name__ == "__main__":
    main()
