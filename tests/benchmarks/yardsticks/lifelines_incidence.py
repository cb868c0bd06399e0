"""Yardstick: the same by lifelines, which breaks ties at random and gives a variance.

python lifelines_incidence.py FOLDER_OF_INPUTS
"""

import json
import sys
import time
import warnings
from pathlib import Path

import numpy as np
from lifelines import AalenJohansenFitter


def main() -> None:
    with np.load(Path(sys.argv[1]) / "times.npz") as inputs:
        day, cause = inputs["time"], inputs["cause"]
    warnings.simplefilter("ignore")
    started = time.perf_counter()
    found = AalenJohansenFitter(seed=1).fit(day, cause, event_of_interest=1)
    seconds = time.perf_counter() - started
    print(json.dumps({"seconds": seconds, "last": float(found.cumulative_density_.iloc[-1, 0])}))


if __name__ == "__main__":
    main()
