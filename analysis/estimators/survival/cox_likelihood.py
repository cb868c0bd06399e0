"""The partial likelihood of a Cox model with Efron's ties: its value, slope, curvature, and each row's part in them.

The libraries at hand fit the model, but their clustered errors with ties and their test of proportional hazards are
approximations; both are made from these sums, and so is the fit.

Efron B, J Am Stat Assoc 1977;72:557-565.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray
from analysis.estimators.survival.risk_sets import RiskSets, carried, step_sums

FURTHEST, MOST_HALVINGS = 600.0, 60
"""Log hazard ratios further apart than this are beyond what exp can tell from 0."""


@dataclass(frozen=True, eq=False)
class CoxSums:
    """At some coefficients: x (ordered rows), risk (exp of the linear predictor over its largest), s0 of each step,
    mean of x at each step, and the log likelihood."""

    x: FloatArray
    risk: FloatArray
    s0: FloatArray
    mean: FloatArray
    log_likelihood: float


def cox_sums(sets: RiskSets, x: FloatArray, b: FloatArray) -> CoxSums:
    """The sums at b. x: rows in the order of `sets`, shape (rows, p)."""
    eta = x @ b
    top = float(eta.max())
    risk = np.exp(eta - top)
    s0 = step_sums(sets, risk)
    mean = step_sums(sets, risk[:, None] * x) / s0[:, None]
    value = float(eta[sets.event].sum() - np.log(s0).sum() - top * len(s0))
    return CoxSums(x, risk, s0, mean, value)


def within_reach(x: FloatArray, b: FloatArray, step: npt.NDArray[Any]) -> FloatArray:
    """The step, halved until the risks of rows do not differ by more than a number can hold."""
    for _ in range(MOST_HALVINGS):
        if np.ptp(x @ (b + step)) <= FURTHEST:
            return np.asarray(step, dtype=np.float64)
        step = step / 2
    return np.zeros_like(step)


def score(sets: RiskSets, sums: CoxSums, weight: FloatArray | None = None) -> FloatArray:
    """The slope, shape (p,). weight: of each step (a function of its time), 1 when None."""
    _, by_step = _events(sets, sums)
    rest = by_step - sums.mean
    return np.asarray(rest.sum(axis=0) if weight is None else weight @ rest, dtype=np.float64)


def _events(sets: RiskSets, sums: CoxSums) -> tuple[FloatArray, FloatArray]:
    """Of each step the mean x of the events tied with it (their order is of no matter)."""
    on = np.flatnonzero(sets.event)
    total = np.zeros((len(sets.moment), sums.x.shape[1]))
    np.add.at(total, sets.moment_of_row[on], sums.x[on])
    mean = total / sets.tied[:, None]
    return mean, mean[sets.step]


def information(sets: RiskSets, sums: CoxSums, weight: FloatArray | None = None) -> FloatArray:
    """The curvature, shape (p, p): the sum over steps of the (weighted) variance of x among those at risk."""
    w = np.ones(len(sums.s0)) if weight is None else weight
    each = carried(sets, w / sums.s0) * sums.risk
    second = sums.x.T @ (sums.x * each[:, None])
    return np.asarray(second - sums.mean.T @ (sums.mean * w[:, None]), dtype=np.float64)


def score_residuals(sets: RiskSets, sums: CoxSums) -> FloatArray:
    """Each ordered row's part in the score, shape (rows, p).

    Lin DY, Wei LJ, J Am Stat Assoc 1989;84:1074-1078, in Efron's form: x less the mean over the tied steps where the
    row had the event, less the risk-weighted x less mean over all steps it was at risk in.
    """
    hazard = carried(sets, 1 / sums.s0)
    drift = carried(sets, sums.mean / sums.s0[:, None])
    made = -sums.risk[:, None] * (sums.x * hazard[:, None] - drift)
    on = np.flatnonzero(sets.event)
    total = np.zeros((len(sets.moment), sums.x.shape[1]))
    np.add.at(total, sets.step, sums.mean)
    made[on] += sums.x[on] - (total / sets.tied[:, None])[sets.moment_of_row[on]]
    return np.asarray(made, dtype=np.float64)
