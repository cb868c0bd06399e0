"""A model judged by the rows that made it: the area there, corrected for optimism, and on many others."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.estimators.regression.checks.optimism import optimism, weighted_area
from analysis.estimators.regression.checks.weighted_fit import weighted_logistic
from tests.simulation.estimators.runner import Limits, Scenario

ROWS, OTHERS = 150, 20_000
SLOPES = np.array([-0.5, 0.8, 0.5, 0, 0, 0, 0])
PEOPLE = np.random.default_rng(77).normal(size=(OTHERS, 6))


def drawn(rng: np.random.Generator, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    columns = np.column_stack([np.ones(len(x)), x])
    return (rng.random(len(x)) < 1 / (1 + np.exp(-columns @ SLOPES))).astype(float), columns


def once(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Each figure minus the area that this very model has on other people, so that the truth is 0."""
    y, x = drawn(rng, rng.normal(size=(ROWS, 6)))
    b = weighted_logistic(y, x, np.ones(ROWS))
    found = optimism(y, x, replicates=60, seed=int(rng.integers(1 << 30)))
    if b is None or found.area.corrected is None or found.area.apparent is None:
        return {"apparent": None, "corrected": None}
    others, columns = drawn(rng, PEOPLE)
    elsewhere = weighted_area(others, columns @ b, np.ones(OTHERS))
    return {
        "apparent": (found.area.apparent - elsewhere, np.nan, np.nan),
        "corrected": (found.area.corrected - elsewhere, np.nan, np.nan),
    }


AREA = Scenario(
    name="optimism of the area",
    estimand={"apparent": "area minus that on others", "corrected": "area minus that on others"},
    truth={"apparent": 0.0, "corrected": 0.0},
    once=once,
)
"""Not among SCENARIOS: the apparent area is meant to stray, and the correction leaves a little (its test says)."""
