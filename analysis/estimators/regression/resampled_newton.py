"""The same logistic model in many resamples at once: Newton's method, warm-started, all resamples in one product."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
BoolArray = npt.NDArray[np.bool_]
MOST_STEPS = 25
LEFT = 1e-11
"""The error that may be left (columns on one scale): a step times how far off the information was made."""
KEPT_WITHIN = 5e-3
"""The information serves another step within this distance of where it was made."""
FURTHEST_STEP = 4.0
ROWS_AT_ONCE = 2048


def newton_in_resamples(
    y: FloatArray, x: FloatArray, times: FloatArray, start: FloatArray
) -> tuple[FloatArray, BoolArray]:
    """The coefficients of every resample, shape (resamples, p), and which of them converged.

    y: 0 or 1, shape (rows,). x: shape (rows, p), columns on scales that are alike. times: shape (rows, resamples), how
    often each row counts. start: the coefficients of all rows, shape (p,).

    Newton's method: a step from where the information was made leaves an error of the order of its square, and one from
    nearby of its length times that distance, so that the information is made anew only while steps are long. Those
    that are done leave. The informations of all resamples are one matrix product of weights and the products of
    columns, made block by block of rows so that it stays in the cache.
    """
    many = times.shape[1]
    found = np.repeat(start[None, :], many, axis=0)
    converged = np.zeros(many, dtype=bool)
    going, away = np.arange(many), np.full(many, np.inf)
    information = np.empty((many, len(start), len(start)))
    for turn in range(MOST_STEPS):
        anew = bool(away.max() > KEPT_WITHIN)
        of = times if len(going) == many else times[:, going]
        score, made = _derivatives(y, x, of, found[going] if turn else start[None, :], second=anew)
        if made is not None:
            information, away = made, np.zeros(len(going))
        step, solved = _solved(information, score)
        far = np.abs(step).max(axis=1)
        step *= np.minimum(1.0, FURTHEST_STEP / np.maximum(far, 1e-300))[:, None]
        found[going] += step
        away = away + far
        done = solved & (far * away < LEFT)
        converged[going[done]] = True
        left = solved & ~done
        going, away, information = going[left], away[left], information[left]
        if not len(going):
            break
    return found, converged


def _derivatives(
    y: FloatArray, x: FloatArray, times: FloatArray, b: FloatArray, *, second: bool
) -> tuple[FloatArray, FloatArray | None]:
    """Of each resample the score, shape (resamples, p), and if asked minus the second derivatives, (resamples, p, p).

    b: shape (resamples, p), or (1, p) for all of them.
    """
    many, p = times.shape[1], x.shape[1]
    first, other = np.triu_indices(p)
    packed, score = np.zeros((many, len(first))), np.zeros((many, p))
    for at in range(0, len(x), ROWS_AT_ONCE):
        part = slice(at, at + ROWS_AT_ONCE)
        own, of = x[part], times[part]
        chance = own @ b.T
        np.clip(chance, -700, 700, out=chance)
        np.negative(chance, out=chance)
        np.exp(chance, out=chance)
        chance += 1.0
        np.reciprocal(chance, out=chance)
        score += (of * (y[part, None] - chance)).T @ own
        if second:
            packed += (of * (chance * (1.0 - chance))).T @ (own[:, first] * own[:, other])
    if not second:
        return score, None
    information = np.empty((many, p, p))
    information[:, first, other] = packed
    information[:, other, first] = packed
    return score, information


def _solved(information: FloatArray, score: FloatArray) -> tuple[FloatArray, BoolArray]:
    """The steps, and which resamples have one."""
    try:
        step = np.linalg.solve(information, score[:, :, None])[:, :, 0]
    except np.linalg.LinAlgError:  # one of them has a level that nobody drew: each by itself
        step = np.full(score.shape, np.nan)
        for at, (own, right) in enumerate(zip(information, score, strict=True)):
            try:
                step[at] = np.linalg.solve(own, right)
            except np.linalg.LinAlgError:
                continue
    solved: BoolArray = np.isfinite(step).all(axis=1)
    step[~solved] = 0.0
    return np.asarray(step, dtype=np.float64), solved
