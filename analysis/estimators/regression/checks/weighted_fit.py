"""A logistic fit with whole weights, as a resample needs it: the same rows, some several times, some not at all."""

from __future__ import annotations

import numpy as np

from analysis.estimators.regression.fitted import FloatArray

MOST_STEPS, HALVINGS, ENOUGH, FAR = 50, 20, 1e-8, 15.0

NEAR = 0.5
"""A step that moves nobody's log odds further is taken as it is: Newton's method is then sure to come nearer."""


def weighted_logistic(
    outcome: FloatArray, x: FloatArray, weight: FloatArray, start: FloatArray | None = None
) -> FloatArray | None:
    """Coefficients by Newton's steps, halved until the likelihood rises; None where there is no finite maximum.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p). weight: how often each row counts, 0 or more. start: where the
    search begins. None for an outcome with one level, a singular information, a search without end, or log odds
    beyond 15 at which the likelihood still rises along the coefficients (separation).
    """
    kept = weight > 0
    y, columns, w = outcome[kept], x[kept], weight[kept]
    b = np.zeros(x.shape[1]) if start is None else start
    value: float | None = None
    for _ in range(MOST_STEPS):
        chance = _chance(columns @ b)
        score = columns.T @ (w * (y - chance))
        information = (columns * (w * chance * (1 - chance))[:, None]).T @ columns
        try:
            step: FloatArray = np.asarray(np.linalg.solve(information, score), dtype=np.float64)
        except np.linalg.LinAlgError:
            return None
        if not np.isfinite(step).all():
            return None
        if float(score @ step) < ENOUGH:  # the next step is the last: it is right to about the square of this
            b = b + step
            return b if np.abs(columns @ b).max() < FAR or _settled(step, columns) else None
        if np.abs(columns @ step).max() < NEAR:
            b, value = b + step, None
            continue
        value = _value(y, columns, w, b) if value is None else value
        for _ in range(HALVINGS):
            tried = b + step
            there = _value(y, columns, w, tried)
            if there >= value:
                break
            step = step / 2
        else:
            return None
        b, value = tried, there
    return None


def _settled(step: FloatArray, x: FloatArray) -> bool:
    """Whether the next step moves nobody's log odds: separation goes on by about 1 a step for ever."""
    return bool(np.abs(x @ step).max() < 0.1)


def _chance(along: FloatArray) -> FloatArray:
    return np.asarray(1 / (1 + np.exp(-np.clip(along, -700, 700))), dtype=np.float64)


def _value(y: FloatArray, x: FloatArray, w: FloatArray, b: FloatArray) -> float:
    along = x @ b
    return float(w @ (y * along - np.logaddexp(0, along)))
