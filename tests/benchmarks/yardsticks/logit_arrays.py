"""Yardstick: the fit alone, with cluster-robust errors, of arrays that are coded already.

python logit_arrays.py FOLDER_OF_INPUTS
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
import statsmodels.api as sm


def main() -> None:
    with np.load(Path(sys.argv[1]) / "arrays.npz") as inputs:
        y, x, patient = inputs["y"], inputs["x"], inputs["patient"]
    started = time.perf_counter()
    found = sm.Logit(y, x).fit(disp=0, cov_type="cluster", cov_kwds={"groups": patient})
    coefficients, errors = found.params, found.bse
    seconds = time.perf_counter() - started
    numbers = {f"b{at}": float(value) for at, value in enumerate(coefficients)}
    print(json.dumps({"seconds": seconds, **numbers, "error": float(errors[1])}))


if __name__ == "__main__":
    main()
