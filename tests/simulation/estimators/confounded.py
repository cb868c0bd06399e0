"""The naive comparison is wrong, the weighted ones are not: two groups, and a ratio of four values.

Truths are of potential outcomes: the chance of the outcome if everybody were in a group (had a ratio), over a
population of a million.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from analysis.estimators.confounding.balance_weights import balance_weights
from analysis.estimators.confounding.contrasts import Contrast
from analysis.estimators.confounding.doubly_robust import doubly_robust
from analysis.estimators.confounding.generalised_propensity import generalised_propensity
from analysis.estimators.confounding.propensity import propensity
from analysis.estimators.confounding.weighted_difference import weighted_difference
from analysis.estimators.confounding.weighted_outcome import weighted_outcome
from analysis.estimators.regression.fitted import effect
from analysis.estimators.regression.linear import linear
from tests.simulation.estimators.runner import Limits, Scenario

PATIENTS, EACH, MILLION = 400, 2, 1_000_000
NAMES = ("intercept", "burden", "pole")
RATIOS, CUTS = np.array([0.75, 0.80, 0.87, 0.95]), np.array([-0.9, 0.2, 1.4])
BASE, SLOPES = np.array([0.0, 0.2, 0.1, -0.2]), np.array([0.0, -0.3, -0.4, -0.8])


def expit(values: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-values)))


def covariates(rng: np.random.Generator, patients: int) -> tuple[np.ndarray, np.ndarray]:
    """Two sides a patient, alike in burden."""
    cluster = np.repeat(np.arange(patients), EACH)
    burden = (rng.normal(size=patients)[cluster] + rng.normal(size=len(cluster))) / np.sqrt(2)
    return np.column_stack([np.ones(len(cluster)), burden, rng.random(len(cluster)) < 0.4]), cluster


def chosen(x: np.ndarray) -> np.ndarray:
    """The chance of the index group."""
    return expit(-0.3 + 0.8 * x[:, 1] + 0.6 * x[:, 2])


def chance(x: np.ndarray, index: np.ndarray | float) -> np.ndarray:
    """Of the outcome: the index group helps, those in it have larger burdens, which harm."""
    return expit(0.5 - 0.9 * x[:, 1] - 0.5 * x[:, 2] + 0.5 * index)


@cache
def truth_of_groups() -> dict[str, float]:
    x, _ = covariates(np.random.default_rng(1), MILLION // EACH)
    gain = chance(x, 1.0) - chance(x, 0.0)
    e = chosen(x)
    both = [float(chance(x, at).mean()) for at in (1.0, 0.0)]
    return {
        "weighted, all": both[0] - both[1],
        "weighted, index group": float((e * gain).sum() / e.sum()),
        "weighted, overlap": float((e * (1 - e) * gain).sum() / (e * (1 - e)).sum()),
        "weighted, log risk ratio": float(np.log(both[0] / both[1])),
        "doubly robust": both[0] - both[1],
        "doubly robust, outcome model alone right": both[0] - both[1],
    }


def limits(found: Contrast, *, log: bool = False) -> Limits | None:
    if found.estimate is None or found.low is None or found.high is None:
        return None
    three = found.estimate, found.low, found.high
    return tuple(float(np.log(each)) for each in three) if log else three  # type: ignore[return-value]


def groups(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    x, cluster = covariates(rng, PATIENTS)
    index = (rng.random(len(x)) < chosen(x)).astype(float)
    y = (rng.random(len(x)) < chance(x, index)).astype(float)
    score = propensity(index, x, NAMES)
    found = {
        kind: weighted_difference(y, score, balance_weights(score, kind), cluster=cluster).contrasts  # type: ignore[arg-type]
        for kind in ("ate", "att", "overlap")
    }
    coarse = propensity(index, x[:, [0, 2]], ("intercept", "pole"))
    return {
        "weighted, all": limits(found["ate"].difference),
        "weighted, index group": limits(found["att"].difference),
        "weighted, overlap": limits(found["overlap"].difference),
        "weighted, log risk ratio": limits(found["ate"].ratio, log=True),
        "doubly robust": limits(doubly_robust(y, score, NAMES, cluster=cluster).contrasts.difference),
        "doubly robust, outcome model alone right": limits(
            doubly_robust(y, coarse, NAMES, x=x, cluster=cluster).contrasts.difference
        ),
    }


def naive(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    x, cluster = covariates(rng, PATIENTS)
    index = (rng.random(len(x)) < chosen(x)).astype(float)
    y = (rng.random(len(x)) < chance(x, index)).astype(float)
    crude = effect(linear(y, np.column_stack([x[:, 0], index]), ("intercept", "index"), cluster=cluster), [0, 1], "")
    return {"crude": (crude.estimate, crude.low, crude.high)}


def received(rng: np.random.Generator, x: np.ndarray, model: str) -> np.ndarray:
    """Looser fits for larger burdens, by the law that the model of the weights takes for granted."""
    if model == "ordinal":
        return RATIOS[(rng.logistic(size=len(x)) - 0.6 * x[:, 1] > CUTS[:, None]).sum(axis=0)]
    odds = BASE + x[:, [1]] * SLOPES + rng.gumbel(size=(len(x), len(RATIOS)))
    return RATIOS[odds.argmax(axis=1)]


def mean_outcome(x: np.ndarray, ratio: np.ndarray | float) -> np.ndarray:
    """Operating time in tens of minutes, say: longer with tighter fits, and with burden."""
    return 6 + 4 * (ratio - 0.8) + 1.5 * x[:, 1] + 0.5 * x[:, 2]


def ratios(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    x, cluster = covariates(rng, PATIENTS)
    found: dict[str, Limits | None] = {}
    for model in ("multinomial", "ordinal"):
        ratio = received(rng, x, model)
        y = mean_outcome(x, ratio) + rng.normal(size=len(x))
        score = generalised_propensity(ratio, x, NAMES, model=model)  # type: ignore[arg-type]
        line = effect(weighted_outcome(y, score, cluster=cluster), [0, 1], "")
        found[f"{model} weights, per 0.1"] = (line.estimate, line.low, line.high)
    return found


GROUPS = Scenario(
    name="confounded groups",
    estimand={
        "weighted, all": "risk difference, all",
        "weighted, index group": "risk difference, index group",
        "weighted, overlap": "risk difference, overlap",
        "weighted, log risk ratio": "log risk ratio, all",
        "doubly robust": "risk difference, all",
        "doubly robust, outcome model alone right": "risk difference, all",
    },
    truth=truth_of_groups(),
    once=groups,
)
RATIO = Scenario(
    name="confounded ratio",
    estimand={f"{model} weights, per 0.1": "difference of means per 0.1" for model in ("multinomial", "ordinal")},
    truth={f"{model} weights, per 0.1": 0.4 for model in ("multinomial", "ordinal")},
    once=ratios,
)
NAIVE = Scenario(
    name="confounded groups, crude",
    estimand={"crude": "risk difference, all"},
    truth={"crude": truth_of_groups()["weighted, all"]},
    once=naive,
)
"""Not among SCENARIOS: the crude comparison is meant to be wrong, which its own test looks at."""
SCENARIOS = [GROUPS, RATIO]
