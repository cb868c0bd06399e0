"""Times to an event of patients with two rows each, censored, with a competing event, or seen only at looks.

The two rows of a patient go together through a normal copula, so that the law of each row alone, which the estimators
speak of, is known exactly.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from analysis.estimators.regression.fitted import Fitted, effects
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.cumulative_incidence import (
    clustered_incidence_error,
    cumulative_incidence,
    incidence_at,
)
from analysis.estimators.survival.fine_gray import fine_gray
from analysis.estimators.survival.interval_weibull import interval_weibull, weibull_survival
from analysis.estimators.survival.kaplan_meier import kaplan_meier, survival_at
from analysis.estimators.survival.restricted_mean import restricted_mean, restricted_mean_contrasts
from tests.simulation.estimators.runner import Limits, Scenario

PATIENTS, TOGETHER = 400, 0.7
NAMES = ("group", "size")
GROUP, SIZE = 0.4, -0.2
CLUSTER = np.repeat(np.arange(PATIENTS), 2)
SHARE = 0.4
HORIZON = 2.0
COX = ("Cox, cluster-robust", "Cox, cluster-robust, of a column within patients")


def together(rng: np.random.Generator) -> np.ndarray:
    """Uniform on 0 to 1, alike within a patient."""
    from scipy.special import ndtr

    shared = rng.normal(size=PATIENTS)[CLUSTER]
    return np.asarray(ndtr(math.sqrt(TOGETHER) * shared + math.sqrt(1 - TOGETHER) * rng.normal(size=2 * PATIENTS)))


def columns(rng: np.random.Generator) -> np.ndarray:
    group = rng.integers(0, 2, PATIENTS)[CLUSTER]
    return np.column_stack([group, rng.normal(size=2 * PATIENTS)]).astype(float)


def on_log(fit: Fitted, place: int = 0) -> Limits:
    found = effects(fit)[place]
    return math.log(found.estimate), math.log(found.low), math.log(found.high)


def hazards(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Exponential times with a log hazard of the columns; times in twentieths, so that there are ties."""
    x = columns(rng)
    time = -np.log(together(rng)) * np.exp(-(GROUP * x[:, 0] + SIZE * x[:, 1]))
    end = rng.uniform(0.5, 3, len(x))
    seen, event = np.ceil(np.minimum(time, end) * 200) / 200, time <= end
    fit = cox(seen, event, x, NAMES, cluster=CLUSTER)
    return {name: on_log(fit, place) for place, name in enumerate(COX)}


def alone(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """One row a patient: a curve at a time, restricted means of two groups."""
    group = np.repeat([0, 1], PATIENTS)
    time, end = rng.exponential(np.where(group == 1, 1.5, 1.0)), rng.uniform(1, 4, 2 * PATIENTS)
    seen, event = np.minimum(time, end), time <= end
    curves = [kaplan_meier(seen[group == one], event[group == one]) for one in (0, 1)]
    (at,) = survival_at(curves[0], [1.0])
    means = [restricted_mean(curve, HORIZON) if curve.last >= HORIZON else None for curve in curves]
    gap = None
    if means[0] is not None and means[1] is not None:
        found = restricted_mean_contrasts(means[1], means[0])["difference"]
        gap = (found.estimate, found.low, found.high)
    assert at.survival is not None and at.low is not None and at.high is not None
    return {"Kaplan-Meier": (at.survival, at.low, at.high), "restricted mean, difference": gap}


def competing(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Fine and Gray's own way: 1 - (1 - share (1 - e^-t))^exp(x b) for the one event, exponential times for the other.

    Fine JP, Gray RJ, J Am Stat Assoc 1999;94:496-509, section 5.
    """
    x = columns(rng)
    ratio = np.exp(GROUP * x[:, 0] + SIZE * x[:, 1])
    u, ever = together(rng), 1 - (1 - SHARE) ** ratio
    first = u < ever
    inner = (1 - (1 - np.where(first, u, 0.0)) ** (1 / ratio)) / SHARE
    time = np.where(first, -np.log(1 - inner), rng.exponential(1 / np.exp(0.2 * x[:, 0])))
    end = rng.uniform(0.5, 4, len(x))
    seen, cause = np.minimum(time, end), np.where(time <= end, np.where(first, 1, 2), 0)
    return {"Fine-Gray, cluster-robust": on_log(fine_gray(seen, cause, x, NAMES, cluster=CLUSTER))}


def incidence(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Two exponential causes, events and ends of follow-up at whole tenths, so that all are tied."""
    one, two = -np.log(together(rng)) / 0.5, -np.log(together(rng)) / 0.3
    event, end = np.ceil(np.minimum(one, two) * 10), rng.integers(5, 31, len(one))
    cause = np.where(event > end, 0, np.where(one < two, 1, 2))
    seen = np.minimum(event, end) / 10
    curve = cumulative_incidence(seen, cause)
    (at,) = incidence_at(curve, 1, [1.0])
    assert at.estimate is not None and at.low is not None and at.high is not None
    error = clustered_incidence_error(seen, cause, CLUSTER, of=1, at=1.0)
    spread = 1.959964 * error / (at.estimate * math.log(at.estimate))
    limits = at.estimate ** math.exp(-spread), at.estimate ** math.exp(spread)
    return {"Aalen-Johansen, clusters": (at.estimate, *limits)}


def looks(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    """Weibull times seen only at looks some months apart, each patient's own."""
    x = np.column_stack([np.ones(2 * PATIENTS), columns(rng)[:, 0]])
    time = 10 * np.exp(GROUP * x[:, 1]) * (-np.log(together(rng))) ** (1 / 1.4)
    days = np.cumsum(rng.uniform(2, 6, (2 * PATIENTS, 5)), axis=1)
    seen = (days < time[:, None]).sum(axis=1)
    held = np.column_stack([np.zeros(len(x)), days, np.full(len(x), np.inf)])
    rows = np.arange(len(x))
    fit = interval_weibull(held[rows, seen], held[rows, seen + 1], x, ["intercept", "group"], cluster=CLUSTER)
    (at,) = weibull_survival(fit, [1, 0], [12.0])
    return {
        "Weibull between looks, ratio of times": on_log(fit, 1),
        "Weibull between looks, survival": (at.estimate, at.low, at.high),
    }


def _tied_incidence() -> float:
    """By 1.0; a row with cause 1 by then had it at a time up to 1.0, as tenths are rounded up."""
    return 0.5 / 0.8 * (1 - math.exp(-0.8))


SCENARIOS = [
    Scenario(
        name="hazards",
        estimand=dict.fromkeys(COX, "log hazard ratio"),
        truth=dict(zip(COX, (GROUP, SIZE), strict=True)),
        once=hazards,
    ),
    Scenario(
        name="survival",
        estimand={"Kaplan-Meier": "survival at 1", "restricted mean, difference": "difference of mean time to 2"},
        truth={
            "Kaplan-Meier": math.exp(-1),
            "restricted mean, difference": 1.5 * (1 - math.exp(-HORIZON / 1.5)) - (1 - math.exp(-HORIZON)),
        },
        once=alone,
    ),
    Scenario(
        name="competing",
        estimand={"Fine-Gray, cluster-robust": "log subdistribution hazard ratio"},
        truth={"Fine-Gray, cluster-robust": GROUP},
        once=competing,
    ),
    Scenario(
        name="incidence",
        estimand={"Aalen-Johansen, clusters": "cumulative incidence at 1"},
        truth={"Aalen-Johansen, clusters": _tied_incidence()},
        once=incidence,
    ),
    Scenario(
        name="between looks",
        estimand={
            "Weibull between looks, ratio of times": "log ratio of times",
            "Weibull between looks, survival": "survival at 12",
        },
        truth={
            "Weibull between looks, ratio of times": GROUP,
            "Weibull between looks, survival": math.exp(-(1.2**1.4)),
        },
        once=looks,
    ),
]  # fmt: skip
