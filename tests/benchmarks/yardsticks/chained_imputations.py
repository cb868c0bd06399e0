"""Yardstick: the general library's chained equations with the model of each imputation, pooled.

    python chained_imputations.py FOLDER_OF_INPUTS IMPUTATIONS CYCLES

It has one chain: CYCLES to settle, then four for each imputation, which are fewer than CYCLES for each.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from statsmodels.imputation.mice import MICE, MICEData


def main() -> None:
    folder, (imputations, cycles) = Path(sys.argv[1]), map(int, sys.argv[2:])
    sides = pd.read_parquet(folder / "gaps.parquet")
    terms = [name for name in sides.columns if name != "stone_free"]
    started = time.perf_counter()
    data = MICEData(sides, rng=np.random.default_rng(1))
    model = MICE(f"stone_free ~ {' + '.join(terms)}", sm.Logit, data, fit_kwds={"disp": 0})
    found = model.fit(n_burnin=cycles, n_imputations=imputations)
    seconds = time.perf_counter() - started
    print(json.dumps({"seconds": seconds, **{f"b{at}": float(value) for at, value in enumerate(found.params)}}))


if __name__ == "__main__":
    main()
