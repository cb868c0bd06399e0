"""How much better a model looks on the rows that made it than it would on others: optimism, by resampling patients."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.checks.weighted_fit import weighted_logistic
from analysis.estimators.regression.firth import firth
from analysis.estimators.regression.fitted import FloatArray, NotEstimable

METHOD = "bootstrap optimism (Harrell), whole clusters resampled"
MOST_LOST = 0.05
"""The share of resamples that may have no fit; above it no corrected figure is given."""
Draw = FloatArray | np.random.SeedSequence
Refit = Callable[[FloatArray, FloatArray, FloatArray], FloatArray | None]


@dataclass(frozen=True, kw_only=True)
class Corrected:
    """A measure on the rows that made the model, its mean optimism, and what is left; None with the reason."""

    measure: str
    apparent: float | None
    optimism: float | None
    corrected: float | None


@dataclass(frozen=True, kw_only=True)
class Optimism:
    """area, brier, slope: apparent and corrected. lost: resamples without a fit. penalised: those that were separated
    and fitted by Firth's likelihood instead. reason: why nothing is corrected.
    """

    area: Corrected
    brier: Corrected
    slope: Corrected
    replicates: int
    lost: int
    penalised: int
    clusters: int
    seed: int | None
    n: int
    method: str = METHOD
    reason: str | None = None
    optimism_of_area: tuple[float, ...] = ()


def optimism(
    outcome: npt.ArrayLike,
    x: FloatArray,
    *,
    cluster: npt.ArrayLike | None = None,
    replicates: int = 200,
    seed: int = 1,
    workers: int = 1,
    penalised: bool = False,
    weights: npt.ArrayLike | None = None,
) -> Optimism:
    """Discrimination and calibration of a logistic model, corrected for optimism.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p), intercept included; every resample gets the same model, so that
    columns chosen by looking at these rows (knots apart) are not allowed for. cluster: drawn whole, each row its own
    without. penalised: refit by Firth's likelihood. weights: resamples given by hand, shape (replicates, rows), how
    often each row counts; else drawn, one stream of the seed a resample, so that any number of workers, and any order
    of rows, gives the same numbers.

    Efron B, Gong G, Am Stat 1983;37:36-48; Harrell FE, Lee KL, Mark DB, Stat Med 1996;15:361-387: of each resample's
    model the measure there minus the measure on the original rows; apparent minus the mean of that. Slope: of the
    outcome on the model's log odds, 1 on the resample itself. A resample that is separated has no finite fit by
    maximum likelihood: leaving it out would flatter, so that it is fitted by Firth's penalised likelihood, and counted.
    One with one outcome alone, or without a fit even so, is lost; above 5 % of them nothing is corrected.
    Raises ValueError for unequal lengths, fewer than one replicate or worker.
    """
    y = np.asarray(outcome, dtype=np.float64)
    code = np.arange(len(y)) if cluster is None else np.unique(np.asarray(cluster), return_inverse=True)[1]
    if x.shape[0] != len(y) or len(code) != len(y):
        raise ValueError("outcome, x and cluster must have one entry a row each; their lengths differ.")
    if replicates < 1 or workers < 1:
        raise ValueError(f"At least one replicate and one worker are needed, not {replicates} and {workers}.")
    many = int(code.max()) + 1
    refit: Refit = _Firth() if penalised else _Plain(weighted_logistic(y, x, np.ones(len(y))))
    if weights is None:
        draws: list[Draw] = list(np.random.SeedSequence(seed).spawn(replicates))
    else:
        draws = list(np.asarray(weights, dtype=np.float64))
    one, order = refit(y, x, np.ones(len(y))), _places(code, y, x)
    measured = _run(y, x, code, order, draws, refit, workers)
    found, shrunk = measured[:, :3], measured[:, 3] > 0
    without = np.isnan(found).any(axis=1)
    lost = int(without.sum())
    made = Optimism(
        area=_nothing("area under the curve"),
        brier=_nothing("Brier score"),
        slope=_nothing("calibration slope"),
        replicates=len(draws),
        lost=lost,
        penalised=int((shrunk & ~without).sum()),
        clusters=many,
        seed=None if weights is not None else seed,
        n=len(y),
    )
    if one is None:
        return _with(made, "the model itself has no finite fit")
    apparent = _measures(y, x @ one, np.ones(len(y)))
    if lost > MOST_LOST * len(draws):
        reason = (
            f"{lost} of {len(draws)} resamples have no fit (one outcome alone, as a rule); leaving them out flatters"
        )
        return _with(made, reason, apparent)
    return _with(made, None, apparent, found[~without])


def _with(
    made: Optimism, reason: str | None, apparent: FloatArray | None = None, kept: FloatArray | None = None
) -> Optimism:
    parts = []
    for at, blank in enumerate((made.area, made.brier, made.slope)):
        seen = None if apparent is None or math.isnan(apparent[at]) else float(apparent[at])
        gap = None if kept is None else math.fsum(kept[:, at]) / len(kept)
        left = None if seen is None or gap is None else seen - gap
        parts.append(Corrected(measure=blank.measure, apparent=seen, optimism=gap, corrected=left))
    return Optimism(
        area=parts[0],
        brier=parts[1],
        slope=parts[2],
        replicates=made.replicates,
        lost=made.lost,
        penalised=made.penalised,
        clusters=made.clusters,
        seed=made.seed,
        n=made.n,
        reason=reason,
        optimism_of_area=() if kept is None else tuple(float(value) for value in kept[:, 0]),
    )


def _nothing(measure: str) -> Corrected:
    return Corrected(measure=measure, apparent=None, optimism=None, corrected=None)


@dataclass(frozen=True, eq=False)
class _Plain:
    start: FloatArray | None

    def __call__(self, y: FloatArray, x: FloatArray, weight: FloatArray) -> FloatArray | None:
        return weighted_logistic(y, x, weight, self.start)


class _Firth:
    def __call__(self, y: FloatArray, x: FloatArray, weight: FloatArray) -> FloatArray | None:
        rows = np.repeat(np.arange(len(y)), weight.astype(np.int64))
        try:
            return firth(y[rows], x[rows], [str(at) for at in range(x.shape[1])]).coefficients
        except (NotEstimable, np.linalg.LinAlgError):
            return None


def _places(code: npt.NDArray[np.int64], y: FloatArray, x: FloatArray) -> npt.NDArray[np.int64]:
    """A place for each cluster that depends on what is in it alone, so that order and labels change no resample."""
    order = np.lexsort((*x.T[::-1], y, code))
    sums = np.column_stack(
        [np.bincount(code[order], weights=column[order]) for column in (y, *x.T, *(x.T**2), np.ones(len(y)))]
    )
    place = np.empty(len(sums), dtype=np.int64)
    place[np.lexsort(np.round(sums, 9).T)] = np.arange(len(sums))
    return place


def _run(
    y: FloatArray,
    x: FloatArray,
    code: npt.NDArray[np.int64],
    place: npt.NDArray[np.int64],
    draws: list[Draw],
    refit: Refit,
    workers: int,
) -> FloatArray:
    """Optimism of area, Brier score and slope, and whether the fit was penalised; not a number where there is none."""
    if workers == 1 or len(draws) < 2 * workers:
        return np.array(list(_some(y, x, code, place, draws, refit)))
    from joblib import Parallel, delayed, parallel_config

    parts = [draws[at::workers] for at in range(workers)]
    with parallel_config(backend="loky", inner_max_num_threads=1):
        made = Parallel(n_jobs=workers)(delayed(_listed)(y, x, code, place, part, refit) for part in parts)
    whole = np.empty((len(draws), 4))
    for at, part in enumerate(made):
        whole[at::workers] = part
    return whole


def _listed(
    y: FloatArray,
    x: FloatArray,
    code: npt.NDArray[np.int64],
    place: npt.NDArray[np.int64],
    draws: list[Draw],
    refit: Refit,
) -> list[FloatArray]:
    return list(_some(y, x, code, place, draws, refit))


def _some(
    y: FloatArray,
    x: FloatArray,
    code: npt.NDArray[np.int64],
    place: npt.NDArray[np.int64],
    draws: list[Draw],
    refit: Refit,
) -> Iterator[FloatArray]:
    whole, many = np.ones(len(y)), len(place)
    for draw in draws:
        if isinstance(draw, np.random.SeedSequence):
            picked = np.random.Generator(np.random.PCG64(draw)).integers(0, many, many)
            weight = np.bincount(picked, minlength=many).astype(np.float64)[place][code]
        else:
            weight = draw
        b, plain = refit(y, x, weight), isinstance(refit, _Plain)
        if b is None and plain:
            b, plain = _Firth()(y, x, weight), False
        if b is None:
            yield np.full(4, np.nan)
            continue
        along = x @ b
        # On its own rows a plain fit has slope 1, whatever they are; a penalised one has not.
        inside = _measures(y, along, weight, slope=1.0 if plain else None)
        outside = _measures(y, along, whole)
        yield np.append(inside - outside, float(isinstance(refit, _Plain) and not plain))


def _measures(y: FloatArray, along: FloatArray, weight: FloatArray, slope: float | None = None) -> FloatArray:
    """Area, Brier score, slope (worked out unless given) of rows that count `weight` times."""
    chance = 1 / (1 + np.exp(-np.clip(along, -700, 700)))
    brier = float(weight @ (chance - y) ** 2 / weight.sum())
    if slope is None:
        line = np.column_stack([np.ones(len(y)), along])
        fitted = weighted_logistic(y, line, weight, np.array([0.0, 1.0]))
        slope = math.nan if fitted is None else float(fitted[1])
    return np.array([weighted_area(y, along, weight), brier, slope])


def weighted_area(outcome: FloatArray, score: FloatArray, weight: FloatArray) -> float:
    """The area under the curve of rows that count `weight` times; not a number without both outcomes."""
    _, level = np.unique(score, return_inverse=True)
    with_it = np.bincount(level, weights=weight * outcome)
    without = np.bincount(level, weights=weight * (1 - outcome))
    pairs = with_it.sum() * without.sum()
    below = np.cumsum(without) - without / 2
    return float(with_it @ below / pairs) if pairs else math.nan
