"""Yardstick: rates of a million sides at five thresholds in 2,400 groups by one packed count in numpy.

python packed_bincount.py FOLDER_OF_INPUTS
"""

import json
import sys
import time
from pathlib import Path

import numpy as np


def main() -> None:
    with np.load(Path(sys.argv[1]) / "inputs.npz") as inputs:
        operator, year, technique = (inputs[name].astype(np.int32) for name in ("operator", "year", "technique"))
        pattern, free, known = inputs["pattern"].astype(np.int32), inputs["free"], inputs["known"]
    group = (operator * (year.max() + 1) + year) * (technique.max() + 1) + technique
    groups, patterns = int(group.max()) + 1, len(free)
    started = time.perf_counter()
    counts = np.bincount(group * patterns + pattern, minlength=groups * patterns).reshape(groups, patterns)
    stone_free, n = counts @ free, counts @ known
    with np.errstate(invalid="ignore"):
        rate = stone_free / n
    seconds = time.perf_counter() - started
    print(json.dumps({"seconds": seconds, "groups": groups, "first": float(np.nan_to_num(rate[0, 0]))}))


if __name__ == "__main__":
    main()
