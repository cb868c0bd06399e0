"""Counts, minutes and nights of patients with several operations: ratios and differences of means."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.estimators.regression.counts import negative_binomial, poisson
from analysis.estimators.regression.fitted import Effect, effects
from analysis.estimators.regression.linear import linear
from analysis.estimators.regression.skewed import gamma_log
from tests.simulation.estimators.runner import Limits, Scenario

PATIENTS, EACH = 500, 2
NAMES = ("intercept", "group", "size")
GROUP, SIZE = 0.3, 0.2


def columns(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    cluster = np.repeat(np.arange(PATIENTS), EACH)
    n = len(cluster)
    return np.column_stack([np.ones(n), rng.integers(0, 2, PATIENTS)[cluster], rng.normal(size=n)]), cluster


def ratio(found: Effect) -> Limits:
    return float(np.log(found.estimate)), float(np.log(found.low)), float(np.log(found.high))


def counted(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """A gamma factor of the patient's with mean 1: rows are alike and scatter, the ratio of means stays."""
    x, cluster = columns(rng)
    factor = rng.gamma(2, 0.5, PATIENTS)[cluster]
    y = rng.poisson(np.exp(-0.5 + GROUP * x[:, 1] + SIZE * x[:, 2]) * factor)
    return {
        "Poisson, cluster-robust": ratio(effects(poisson(y, x, NAMES, cluster=cluster))[1]),
        "negative binomial, cluster-robust": ratio(effects(negative_binomial(y, x, NAMES, cluster=cluster))[1]),
    }


def measured(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Minutes scatter more in one group, by a log-normal law: the ratio of geometric means is another."""
    x, cluster = columns(rng)
    spread = 0.3 + 0.4 * x[:, 1]
    noise = np.sqrt(0.5) * rng.normal(size=PATIENTS)[cluster] + np.sqrt(0.5) * rng.normal(size=len(x))
    y = 60 * np.exp(GROUP * x[:, 1] + SIZE * x[:, 2] + spread * noise - spread**2 / 2)
    nights = 2 + 0.5 * x[:, 1] + 0.3 * x[:, 2] + spread * rng.normal(size=len(x))
    gap = effects(linear(nights, x, NAMES))[1]
    return {
        "gamma, log link, cluster-robust": ratio(effects(gamma_log(y, x, NAMES, cluster=cluster))[1]),
        "linear, HC3": (gap.estimate, gap.low, gap.high),
    }


SCENARIOS = [
    Scenario(
        name="counts",
        estimand={
            "Poisson, cluster-robust": "log ratio of means",
            "negative binomial, cluster-robust": "log ratio of means",
        },
        truth={"Poisson, cluster-robust": GROUP, "negative binomial, cluster-robust": GROUP},
        once=counted,
    ),
    Scenario(
        name="minutes and nights",
        estimand={"gamma, log link, cluster-robust": "log ratio of means", "linear, HC3": "difference of means"},
        truth={"gamma, log link, cluster-robust": GROUP, "linear, HC3": 0.5},
        once=measured,
    ),
]
