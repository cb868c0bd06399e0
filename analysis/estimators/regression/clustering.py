"""Covariances that allow for several rows of one cluster (a patient, an operator)."""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt
import pandas as pd

FloatArray = npt.NDArray[np.float64]
Correction = Literal["CR0", "CR1", "CR1S"]

CORRECTIONS: dict[Correction, str] = {
    "CR0": "cluster-robust, no small-sample correction",
    "CR1": "cluster-robust, times G/(G-1)",
    "CR1S": "cluster-robust, times G/(G-1) x (N-1)/(N-p)",
}


def cluster_covariance(
    *, bread: FloatArray, scores: FloatArray, cluster: npt.ArrayLike, correction: Correction = "CR1"
) -> tuple[FloatArray, int]:
    """The sandwich over clusters, and how many there are.

    bread: inverse information, shape (p, p). scores: each row's contribution to the score, shape (rows, p). cluster:
    shape (rows,). Liang KY, Zeger SL, Biometrika 1986;73:13-22; corrections as named in Cameron AC, Miller DL, J Hum
    Resour 2015;50:317-372 (CR1, and with (N-1)/(N-p) the default of several programs).
    """
    code, met = pd.factorize(np.asarray(cluster), use_na_sentinel=False)  # words are not sorted for it
    many = len(met)
    sums = np.zeros((many, scores.shape[1]))
    for at in range(scores.shape[1]):
        sums[:, at] = np.bincount(code, weights=scores[:, at], minlength=many)
    made = bread @ (sums.T @ sums) @ bread
    n, p = scores.shape
    factor = 1.0
    if correction in ("CR1", "CR1S") and many > 1:
        factor *= many / (many - 1)
    if correction == "CR1S" and n > p:
        factor *= (n - 1) / (n - p)
    return made * factor, many
