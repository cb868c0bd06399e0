"""Weights that make two groups alike: for whom they speak, and how each moves with the score."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analysis.estimators.confounding.effective_size import effective_size
from analysis.estimators.confounding.propensity import Propensity, check_overlap
from analysis.estimators.regression.fitted import FloatArray

Kind = Literal["ate", "att", "overlap", "stabilised"]
SPEAKS_FOR: dict[Kind, str] = {
    "ate": "all (average effect)",
    "att": "those of the index group (average effect among the treated)",
    "overlap": "those who could as well have been in either group (overlap weights)",
    "stabilised": "all (average effect), weights times the share of the own group",
}
FOR_WHOM: dict[Kind, tuple[int, ...]] = {"ate": (0, 1), "att": (0,), "overlap": (), "stabilised": (0, 1)}
"""The groups of which no more than half may lie beyond the other's range of scores."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Weights:
    """values: shape (rows,). slopes: of each by its log odds of the score, 0 where the weight was cut. cut: limits that
    weights were cut to (quantiles `clip` of them), and how many were. effective: size of each group, index first.
    """

    kind: Kind
    speaks_for: str
    values: FloatArray
    slopes: FloatArray
    clip: tuple[float, float] | None
    cut: tuple[float, float] | None
    cut_rows: int
    largest: float
    total: float
    effective: tuple[float, float]


def balance_weights(score: Propensity, kind: Kind = "ate", *, clip: tuple[float, float] | None = None) -> Weights:
    """The weights of every row.

    With e the score and t 1 in the index group: ate t/e + (1-t)/(1-e); att t + (1-t) e/(1-e); overlap t (1-e) +
    (1-t) e (Li F, Morgan KL, Zaslavsky AM, J Am Stat Assoc 2018;113:390-400); stabilised, ate times the share of the
    own group (Robins JM, Hernan MA, Brumback B, Epidemiology 2000;11:550-560). clip: quantiles of all weights, such as
    (0.01, 0.99), beyond which they are set to them (Cole SR, Hernan MA, Am J Epidemiol 2008;168:656-664; all from
    memory).

    Raises NotEstimable when too few share a range of scores (``check_overlap``); ValueError for an unknown kind or
    quantiles that do not rise within 0 and 1.
    """
    if kind not in SPEAKS_FOR:
        raise ValueError(f"{kind!r} is no kind of weights; there are {', '.join(SPEAKS_FOR)}.")
    if clip is not None and not 0 <= clip[0] < clip[1] <= 1:
        raise ValueError(f"Weights are cut at quantiles that rise within 0 and 1, not {clip[0]:g} and {clip[1]:g}.")
    check_overlap(score.overlap, FOR_WHOM[kind])
    values, slopes = _of(score, kind)
    cut, beyond = None, np.zeros(len(values), dtype=bool)
    if clip is not None:
        low, high = (float(each) for each in np.quantile(values, clip))
        cut, beyond = (low, high), (values < low) | (values > high)
        values, slopes = np.clip(values, low, high), np.where(beyond, 0.0, slopes)
    one = score.index
    return Weights(
        kind=kind,
        speaks_for=SPEAKS_FOR[kind],
        values=values,
        slopes=slopes,
        clip=clip,
        cut=cut,
        cut_rows=int(beyond.sum()),
        largest=float(values.max()),
        total=float(values.sum()),
        effective=(effective_size(values[one]), effective_size(values[~one])),
    )


def _of(score: Propensity, kind: Kind) -> tuple[FloatArray, FloatArray]:
    """The weights, and their derivatives by the log odds of the score."""
    e, one = score.scores, score.index
    own, other = np.where(one, e, 1 - e), np.where(one, 1 - e, e)
    sign = np.where(one, -1.0, 1.0)  # a higher score weighs the index group less and the other more
    if kind == "overlap":
        return other, sign * own * other
    if kind == "att":
        odds = np.where(one, 1.0, other / own)
        return odds, np.where(one, 0.0, odds)
    values, slopes = 1 / own, sign * other / own
    if kind == "stabilised":
        share = np.where(one, one.mean(), 1 - one.mean())
        values, slopes = values * share, slopes * share
    return values, slopes
