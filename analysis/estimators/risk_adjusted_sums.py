"""Cumulative sums over a series of operations, each with its own expected risk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class CumulativeSum:
    """weights and path: shape (operations,). signal: place of the first operation at which the limit is reached, from
    0; None when it never is. The sum goes on after a signal.
    """

    weights: FloatArray
    path: FloatArray
    signal: int | None


def weights(
    outcome: npt.ArrayLike, risk: npt.ArrayLike, *, odds_ratio: float, odds_ratio_expected: float = 1.0
) -> FloatArray:
    """Each operation's log likelihood ratio of odds multiplied by `odds_ratio` against `odds_ratio_expected`.

    outcome: 0 or 1, shape (operations,), 1 is the event. risk: expected chance, between 0 and 1. Steiner SH, Cook RJ,
    Farewell VT, Treasure T, Biostatistics 2000;1:441-452, equation 3. Raises ValueError for values out of range.
    """
    y, p = np.asarray(outcome, dtype=np.float64), np.asarray(risk, dtype=np.float64)
    if y.shape != p.shape or not np.isin(y, (0, 1)).all() or ((p <= 0) | (p >= 1)).any():
        raise ValueError("outcome is 0 or 1 and risk between 0 and 1, one entry an operation each.")
    if min(odds_ratio, odds_ratio_expected) <= 0 or odds_ratio == odds_ratio_expected:
        raise ValueError("The two odds ratios are above 0 and differ.")
    none = np.log((1 - p + odds_ratio_expected * p) / (1 - p + odds_ratio * p))
    return np.asarray(none + y * np.log(odds_ratio / odds_ratio_expected))


def cumulative_sum(
    outcome: npt.ArrayLike, risk: npt.ArrayLike, *, odds_ratio: float, limit: float, odds_ratio_expected: float = 1.0
) -> CumulativeSum:
    """The sum, kept at 0 or above where worse is looked for (odds_ratio above the expected), mirrored for better.

    limit: above 0. The order of operations is that of the rows. Raises ValueError as `weights`.
    """
    each = weights(outcome, risk, odds_ratio=odds_ratio, odds_ratio_expected=odds_ratio_expected)
    sign = 1.0 if odds_ratio > odds_ratio_expected else -1.0
    path, at = np.empty(len(each)), 0.0
    for place, weight in enumerate(each):
        at = max(0.0, at + float(weight))
        path[place] = at
    reached = np.flatnonzero(path >= limit)
    return CumulativeSum(weights=each, path=sign * path, signal=int(reached[0]) if len(reached) else None)


def expected_less_observed(outcome: npt.ArrayLike, risk: npt.ArrayLike) -> FloatArray:
    """The running sum of expected less observed events: up is better than expected, and it has no limit of its own.

    Lovegrove J et al, Lancet 1997;350:1128-1130; Poloniecki J et al, BMJ 1998;316:1697-1700 (from memory).
    """
    y, p = np.asarray(outcome, dtype=np.float64), np.asarray(risk, dtype=np.float64)
    return np.asarray(np.cumsum(p - y))


def run_length(
    *, risk: float, odds_ratio: float, limit: float, true_odds_ratio: float = 1.0, states: int = 500
) -> float:
    """How many operations pass on average until the sum signals, all with one risk.

    true_odds_ratio: by how much the odds really are multiplied. states: of the Markov chain that stands for the sum
    (Brook D, Evans DA, Biometrika 1972;59:539-549); more are nearer. With risks that differ simulate instead.
    """
    up, down = (float(weights([y], [risk], odds_ratio=odds_ratio)[0]) for y in (1, 0))
    chance = true_odds_ratio * risk / (1 - risk + true_odds_ratio * risk)
    width = limit / (states - 0.5)
    centre = np.arange(states) * width
    moves = np.zeros((states, states))
    for step, probability in ((up, chance), (down, 1 - chance)):
        there = np.maximum(np.floor((centre + step) / width + 0.5), 0).astype(np.int64)
        stays = there < states
        np.add.at(moves, (np.flatnonzero(stays), there[stays]), probability)
    return float(np.linalg.solve(np.eye(states) - moves, np.ones(states))[0])
