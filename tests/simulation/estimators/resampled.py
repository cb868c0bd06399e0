"""Percentile limits of a logistic model by resampling patients: several sides each, alike."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.estimators.regression.cluster_bootstrap import bootstrap_effect, bootstrap_logistic
from tests.simulation.estimators.runner import Limits, Scenario

PATIENTS, EACH = 300, 3
BRIDGE = 0.9
"""A patient's part follows the bridge law (Wang Z, Louis TA, Biometrika 2003;90:765-775, from memory), so that the
marginal model is logistic too, its coefficients this much of the patient's own."""
OWN = 0.8


def bridge(rng: np.random.Generator, many: int) -> np.ndarray:
    u = rng.random(many)
    return np.asarray(np.log(np.sin(BRIDGE * np.pi * u) / np.sin(BRIDGE * np.pi * (1 - u))) / BRIDGE)


def once(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    cluster = np.repeat(np.arange(PATIENTS), EACH)
    group = rng.integers(0, 2, PATIENTS)[cluster].astype(float)
    odds = -0.2 + OWN * group + bridge(rng, PATIENTS)[cluster]
    y = (rng.random(len(cluster)) < 1 / (1 + np.exp(-odds))).astype(float)
    x = np.column_stack([np.ones(len(cluster)), group])
    made = bootstrap_logistic(
        y, x, ("intercept", "group"), cluster=cluster, seed=int(rng.integers(2**31)), replicates=400
    )
    found = bootstrap_effect(made, [0, 1], "group")
    return {"cluster bootstrap": tuple(np.log([found.estimate, found.low, found.high]))}  # type: ignore[dict-item]


SCENARIOS = [
    Scenario(
        name="resampled patients",
        estimand={"cluster bootstrap": "marginal log odds ratio"},
        truth={"cluster bootstrap": OWN * BRIDGE},
        once=once,
    )
]
