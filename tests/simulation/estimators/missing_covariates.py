"""A covariate that lacks by outcome: imputed, effects are right and covered; complete rows are wrong."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from analysis.estimators.chained_equations import Kind, chained_equations
from analysis.estimators.pooled_regression import pooled_effect, pooled_fit
from analysis.estimators.regression.fitted import Effect, Fitted, effect
from analysis.estimators.regression.linear import linear
from analysis.estimators.regression.logistic import logistic
from tests.simulation.estimators.runner import Limits, Scenario

ROWS, IMPUTATIONS, CYCLES = 400, 20, 4
TRUTH = {"imputed, time on burden": 0.6, "imputed, time on culture": 0.5, "imputed, time on age": 0.4}
KINDS: dict[str, Kind] = {"age": "numeric", "burden": "numeric", "culture": "binary", "time": "numeric"}
NAMES = ("intercept", "burden", "culture", "age")


def drawn(rng: np.random.Generator) -> pd.DataFrame:
    age = rng.normal(size=ROWS)
    burden = 0.5 * age + rng.normal(size=ROWS)
    culture = (rng.random(ROWS) < 1 / (1 + np.exp(-(-0.4 + 0.5 * age)))).astype(float)
    time = 1 + 0.6 * burden + 0.5 * culture + 0.4 * age + rng.normal(size=ROWS)
    frame = pd.DataFrame({"age": age, "burden": burden, "culture": culture, "time": time})
    longer = 1 / (1 + np.exp(-(time - 1.5)))
    frame.loc[rng.random(ROWS) < 0.5 * longer, "burden"] = np.nan
    frame.loc[rng.random(ROWS) < 0.4 * (1 - longer), "culture"] = np.nan
    return frame


def columns(frame: pd.DataFrame) -> np.ndarray:
    return np.column_stack([np.ones(len(frame)), frame[["burden", "culture", "age"]]])


def once(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    made = chained_equations(drawn(rng), KINDS, seed=int(rng.integers(2**31)), imputations=IMPUTATIONS, cycles=CYCLES)
    full = [made.completed(number) for number in range(IMPUTATIONS)]
    fit = pooled_fit([linear(one["time"], columns(one), NAMES) for one in full])
    found = {}
    for at, name in enumerate(NAMES[1:], start=1):
        own = pooled_effect(fit, np.eye(4)[at], name).effect
        found[f"imputed, time on {name}"] = (own.estimate, own.low, own.high)
    return found


LOGISTIC_KINDS: dict[str, Kind] = {"age": "numeric", "burden": "numeric", "free": "binary"}


def halves(rng: np.random.Generator) -> pd.DataFrame:
    """A yes/no outcome; burden is normal given it and age, so that log odds are a - 0.7 burden + 0.35 age."""
    rows = 600
    free = (rng.random(rows) < 0.5).astype(float)
    age = rng.normal(size=rows)
    burden = 0.5 * age - 0.7 * free + rng.normal(size=rows)
    frame = pd.DataFrame({"age": age, "burden": burden, "free": free})
    frame.loc[rng.random(rows) < np.where((free == 1) & (age > 0), 0.6, 0.15), "burden"] = np.nan
    return frame


def on_burden_and_age(frame: pd.DataFrame) -> Fitted:
    x = np.column_stack([np.ones(len(frame)), frame[["burden", "age"]]])
    return logistic(frame["free"], x, ("intercept", "burden", "age"))


def logs(found: Effect) -> Limits:
    return float(np.log(found.estimate)), float(np.log(found.low)), float(np.log(found.high))


def logistic_once(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    made = chained_equations(
        halves(rng), LOGISTIC_KINDS, seed=int(rng.integers(2**31)), imputations=IMPUTATIONS, cycles=2
    )
    fit = pooled_fit([on_burden_and_age(made.completed(number)) for number in range(IMPUTATIONS)])
    return {
        "imputed, free on burden": logs(pooled_effect(fit, [0, 1, 0], "").effect),
        "imputed, free on age": logs(pooled_effect(fit, [0, 0, 1], "").effect),
    }


def complete_rows(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    return {"complete rows": logs(effect(on_burden_and_age(halves(rng).dropna()), [0, 0, 1], ""))}


LINEAR = Scenario(
    name="missing covariates",
    estimand=dict.fromkeys(TRUTH, "difference of means"),
    truth=TRUTH,
    once=once,
)
LOGISTIC = Scenario(
    name="missing covariates, yes or no",
    estimand={"imputed, free on burden": "log odds ratio", "imputed, free on age": "log odds ratio"},
    truth={"imputed, free on burden": -0.7, "imputed, free on age": 0.35},
    once=logistic_once,
)
COMPLETE = Scenario(
    name="missing covariates, complete rows",
    estimand={"complete rows": "log odds ratio of age"},
    truth={"complete rows": 0.35},
    once=complete_rows,
)
"""Not among SCENARIOS: complete rows are meant to be wrong, which its own test looks at."""
SCENARIOS = [LINEAR, LOGISTIC]
