"""Which patients move a logistic model, and what becomes of an estimate without the one that moves it most."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable, effects

CELLS_AT_ONCE = 4_000_000
Refit = Callable[[npt.NDArray[np.bool_]], Fitted]


@dataclass(frozen=True, kw_only=True)
class OfCluster:
    """cluster: its label. rows: how many. leverage: its share of the p coefficients, summed over its rows. cook: how
    far all coefficients move without it, Cook's distance. dfbeta: of the exposure's coefficient that moves most, in
    its standard errors."""

    cluster: str
    rows: int
    leverage: float
    cook: float
    dfbeta: float | None


@dataclass(frozen=True, kw_only=True)
class Influence:
    """most: clusters by Cook's distance, the largest first. largest_leverage, largest_dfbeta: the clusters that have
    them. mean_leverage: p / clusters. without: the exposure's effects refitted without `left_out`, the cluster that
    moves it most; `with_all` beside. reason: why there is none."""

    most: tuple[OfCluster, ...]
    largest_leverage: OfCluster
    largest_dfbeta: OfCluster | None
    mean_leverage: float
    clusters: int
    left_out: str | None
    with_all: tuple[Effect, ...]
    without: tuple[Effect, ...]
    method: str
    reason: str | None = None


def influence(
    fit: Fitted,
    outcome: npt.ArrayLike,
    x: FloatArray,
    *,
    cluster: npt.ArrayLike | None = None,
    exposure: Sequence[int] = (),
    refit: Refit | None = None,
    labels: Sequence[str] | None = None,
    shown: int = 5,
    level: float = 0.95,
) -> Influence:
    """Leave out every cluster in turn, by one step of Newton's method, and the worst of them in earnest.

    fit: a logistic model of outcome (0 or 1, shape (rows,)) on x (shape (rows, p)). cluster: shape (rows,); each row
    its own without. exposure: places of its coefficients. refit: fits the rows of a mask anew. labels: of the
    coefficients, in words.

    Without cluster c the coefficients move by (I - I_c)^-1 s_c, s_c its score and I_c its information (Pregibon D, Ann
    Stat 1981;9:705-724; whole clusters: Preisser JS, Qaqish BF, Biometrika 1996;83:551-562); Cook's distance is d' I d
    / p, a dfbeta that movement in the fit's standard errors. Cluster labels are those given: they are for the unit's
    own eyes.
    """
    y = np.asarray(outcome, dtype=np.float64)
    names, code = np.unique(np.arange(len(y)) if cluster is None else np.asarray(cluster), return_inverse=True)
    moved, leverage, alone = _left_out(fit, y, x, code, len(names))
    chance = _chance(fit, x)
    information = (x * (chance * (1 - chance))[:, None]).T @ x
    cook = np.einsum("gi,ij,gj->g", moved, information, moved) / x.shape[1]
    cook[alone] = np.inf
    rows, at = np.bincount(code), list(exposure)
    dfbeta = moved[:, at] / fit.standard_errors[at] if at else None

    def record(group: int) -> OfCluster:
        own = None
        if dfbeta is not None:
            own = float(dfbeta[group][np.abs(dfbeta[group]).argmax()])
        return OfCluster(
            cluster=str(names[group]),
            rows=int(rows[group]),
            leverage=float(leverage[group]),
            cook=float(cook[group]),
            dfbeta=own,
        )

    worst = None
    if at:
        v = fit.covariance[np.ix_(at, at)]
        far = np.einsum("gi,ij,gj->g", moved[:, at], np.linalg.pinv(v, hermitian=True), moved[:, at])
        far[alone] = np.inf
        worst = int(far.argmax())
    without, reason = _refitted(refit, code, worst, at, labels, level)
    order = np.argsort(-cook, kind="stable")[:shown]
    every = effects(fit, labels, level=level)
    return Influence(
        most=tuple(record(int(group)) for group in order),
        largest_leverage=record(int(leverage.argmax())),
        largest_dfbeta=None if worst is None else record(worst),
        mean_leverage=x.shape[1] / len(names),
        clusters=len(names),
        left_out=None if worst is None else str(names[worst]),
        with_all=tuple(every[place] for place in at),
        without=without,
        method="one step of Newton's method without each " + ("row" if cluster is None else "cluster"),
        reason=reason,
    )


def _refitted(
    refit: Refit | None,
    code: npt.NDArray[np.int64],
    worst: int | None,
    at: list[int],
    labels: Sequence[str] | None,
    level: float,
) -> tuple[tuple[Effect, ...], str | None]:
    if worst is None:
        return (), "no exposure is named"
    if refit is None:
        return (), "the model is not of a kind that is fitted anew here"
    try:
        every = effects(refit(code != worst), labels, level=level)
    except (NotEstimable, np.linalg.LinAlgError) as fault:
        return (), f"without this cluster the model has no estimate: {fault}"
    return tuple(every[place] for place in at), None


def _left_out(
    fit: Fitted, y: FloatArray, x: FloatArray, code: npt.NDArray[np.int64], many: int
) -> tuple[FloatArray, FloatArray, npt.NDArray[np.bool_]]:
    """How far the coefficients move without each cluster (full minus rest), its leverage, and whether the rest has no
    estimate at all."""
    chance = _chance(fit, x)
    weight, p = chance * (1 - chance), x.shape[1]
    information = (x * weight[:, None]).T @ x
    inverse = np.linalg.inv(information)
    score = np.zeros((many, p))
    for place in range(p):
        score[:, place] = np.bincount(code, weights=x[:, place] * (y - chance), minlength=many)
    order = np.argsort(code, kind="stable")
    own_part = np.einsum("ij,jk,ik->i", x, inverse, x) * weight
    leverage: FloatArray = np.bincount(code, weights=own_part, minlength=many).astype(np.float64)
    starts = np.searchsorted(code[order], np.arange(many + 1))
    moved, alone = np.zeros((many, p)), np.zeros(many, dtype=bool)
    size = np.sqrt(np.diag(information))
    at_once = max(1, CELLS_AT_ONCE // (p * p))
    for first in range(0, many, at_once):
        last = min(first + at_once, many)
        rows = order[starts[first] : starts[last]]
        products = x[rows, :, None] * (x[rows] * weight[rows, None])[:, None, :]
        own = np.add.reduceat(products, starts[first:last] - starts[first], axis=0)
        rest = (information - own) / np.outer(size, size)
        lone = leverage[first:last] > 1 - 1e-6  # else the rest cannot be singular
        lone[lone] = np.linalg.eigvalsh(rest[lone])[:, 0] < 1e-10
        rest[lone] = np.eye(p)
        moved[first:last] = np.linalg.solve(rest, (score[first:last] / size)[:, :, None])[:, :, 0] / size
        moved[first:last][lone] = 0.0
        alone[first:last] = lone
    return moved, leverage, alone


def _chance(fit: Fitted, x: FloatArray) -> FloatArray:
    return np.asarray(1 / (1 + np.exp(-np.clip(x @ fit.coefficients, -700, 700))), dtype=np.float64)
