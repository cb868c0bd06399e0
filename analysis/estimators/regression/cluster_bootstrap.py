"""Limits of a logistic model by drawing whole clusters (patients) again and fitting anew each time."""

from __future__ import annotations

import warnings
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.parallel import run_all
from analysis.estimators.proportions import normal_quantile
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.resampled_newton import newton_in_resamples
from analysis.estimators.regression.separation import separating

METHOD = "cluster bootstrap, percentile"
AT_ONCE = 50
MOST_LOST = 0.01
"""The share of resamples without a fit above which there are no limits; a limit of ours, without a source."""
SURE = 1e-6
FAR = 12.0


@dataclass(frozen=True, kw_only=True, eq=False)
class BootstrapFit:
    """A logistic model with the coefficients of every resample that has them.

    fit: of all rows. draws: coefficients, shape (resamples with a fit, p). lost: resamples without a fit, by why.
    """

    fit: Fitted
    draws: FloatArray
    lost: Mapping[str, int]
    replicates: int
    clusters: int
    seed: int
    method: str = METHOD


@dataclass(frozen=True, kw_only=True)
class BootstrapEffect:
    """exp of a weighted sum of coefficients; its limits are percentiles of the resamples."""

    label: str
    estimate: float
    low: float
    high: float
    standard_error: float
    replicates: int
    lost: int
    level: float
    scale: str = "odds ratio"
    method: str = METHOD


def bootstrap_logistic(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike,
    seed: int,
    replicates: int = 2000,
    events_per_parameter: float = 10.0,
    force: bool = False,
    workers: int | None = 1,
    dask: str | None = None,
    doing: str = "",
) -> BootstrapFit:
    """Fit the model to all rows, and to `replicates` resamples of their clusters.

    outcome, x, names, events_per_parameter, force: as ``logistic``. cluster: shape (rows,), words or codes; as many
    clusters as there are, are drawn with replacement, each with all its rows, which then count as often as theirs was
    drawn (Davison AC, Hinkley DV, Bootstrap Methods and their Application, Cambridge 1997, section 3.8). workers,
    dask, doing: as ``run_all``; the seed gives the same resamples on any of them.

    A resample in which the outcome is separated, or in which nobody of a level was drawn, has no estimate: it is
    counted by its reason. Raises NotEstimable as ``logistic``, with fewer than two clusters, and when more than 1 % of
    resamples have no fit: the limits of the others would leave out the far ones. ValueError for fewer than 1 replicate.
    """
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    y = np.asarray(outcome, dtype=np.float64)
    _, code = np.unique(np.asarray(cluster), return_inverse=True)
    if code.shape != y.shape:
        raise ValueError("outcome and cluster must have one entry a row each; their lengths differ.")
    fit = logistic(y, x, names, cluster=code, events_per_parameter=events_per_parameter, force=force)
    many = int(code.max()) + 1
    if many < 2:
        raise NotEstimable("There is one cluster, which drawn again is always itself, so that no limits can be told.")
    centre, spread = _scales(x)
    scaled = np.ascontiguousarray((x - centre) / spread)
    start = fit.coefficients * spread
    lifts = np.flatnonzero(centre == 0)[:1] if (centre != 0).any() else np.zeros(0, dtype=np.int64)
    if len(lifts):  # what centring takes from the intercept
        start[lifts] += float(centre @ fit.coefficients)
    start = np.round(start, 6)  # the last digits of a fit depend on how many threads made it; those below do not
    sizes = [min(AT_ONCE, replicates - at) for at in range(0, replicates, AT_ONCE)]
    shared = {"y": y, "x": scaled, "code": code, "start": start, "names": tuple(names)}
    parts = run_all(_batch, sizes, seed, workers, dask, shared=shared, doing=doing)
    lost = Counter(why for _, reasons in parts for why in reasons)
    draws = np.concatenate([found for found, _ in parts]) / spread
    if len(lifts):
        draws[:, lifts[0]] -= draws @ centre
    gone = sum(lost.values())
    if gone > MOST_LOST * replicates:
        told = "; ".join(f"{why}: {count:,}" for why, count in lost.most_common(3))
        raise NotEstimable(
            f"In {gone:,} of {replicates:,} resamples of clusters the model has no estimate ({told}), more than "
            f"{MOST_LOST:.0%}, so that limits by resampling would leave out the far ones. Use the penalised model "
            '(fit = "firth"), join levels, or use the cluster-robust limits.'
        )
    return BootstrapFit(fit=fit, draws=draws, lost=dict(lost), replicates=replicates, clusters=many, seed=seed)


def bootstrap_effect(made: BootstrapFit, weights: npt.ArrayLike, label: str, *, level: float = 0.95) -> BootstrapEffect:
    """exp of a weighted sum of coefficients, limits at position (m + 1) p of the resamples' values, interpolated.

    weights: shape (p,). standard_error: of the sum (log scale), the standard deviation over resamples. Davison AC,
    Hinkley DV, 1997, section 5.2. Resamples without a fit are in neither; ``lost`` counts them.
    """
    normal_quantile(level=level)
    w = np.asarray(weights, dtype=np.float64)
    of = made.draws @ w
    low, high = np.exp(np.quantile(of, [(1 - level) / 2, (1 + level) / 2], method="weibull"))
    return BootstrapEffect(
        label=label,
        estimate=float(np.exp(w @ made.fit.coefficients)),
        low=float(low),
        high=float(high),
        standard_error=float(of.std(ddof=1)) if len(of) > 1 else 0.0,
        replicates=made.replicates,
        lost=made.replicates - len(of),
        level=level,
    )


def _scales(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What to take from each column and divide it by; nothing is taken without an intercept that could give it back."""
    spread = x.std(axis=0)
    constant = spread <= 1e-12 * np.abs(x).max(axis=0)
    centre = (
        np.where(constant, 0.0, x.mean(axis=0)) if (x[:, constant] == 1).all(axis=0).any() else np.zeros(x.shape[1])
    )
    return centre, np.where(constant, 1.0, spread)


def _batch(
    size: int,
    generator: np.random.Generator,
    *,
    y: FloatArray,
    x: FloatArray,
    code: npt.NDArray[np.int64],
    start: FloatArray,
    names: tuple[str, ...],
) -> tuple[FloatArray, list[str]]:
    """The coefficients (scaled columns) of those of `size` resamples that have them, and why the others have none."""
    many = int(code.max()) + 1
    counts = np.stack([np.bincount(generator.integers(0, many, many), minlength=many) for _ in range(size)], axis=1)
    times = counts.astype(np.float64)[code]
    found, converged = newton_in_resamples(y, x, times, start)
    furthest = np.abs(x @ found.T).max(axis=0)
    lost = []
    for at in np.flatnonzero(~converged | (furthest > FAR)):
        again, why = _alone(y, x, times[:, at], names)
        converged[at] = again is not None
        if again is None:
            lost.append(why)
        else:
            found[at] = again
    return found[converged], lost


def _alone(y: FloatArray, x: FloatArray, times: FloatArray, names: tuple[str, ...]) -> tuple[FloatArray | None, str]:
    """One resample, fitted slowly and looked at: its coefficients, or why it has none."""
    import statsmodels.api as sm

    drawn = times > 0
    own, outcome = x[drawn], y[drawn]
    if outcome.min() == outcome.max():
        return None, "all drawn have the same outcome"
    if np.linalg.matrix_rank(own) < own.shape[1]:
        absent = [name for name, column in zip(names, own.T, strict=True) if np.ptp(column) == 0 and column[0] != 1]
        return None, f"nobody drawn differs in {', '.join(absent)}" if absent else "columns say the same of those drawn"
    apart = separating(outcome, own, names)
    if apart:  # centred columns bring the intercept in
        varying = [name for name, column in zip(names, own.T, strict=True) if np.ptp(column) > 0 and name in apart]
        return None, f"separated by {', '.join(varying or apart)}"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # not converging is named below
        model = sm.GLM(outcome, own, family=sm.families.Binomial(), freq_weights=times[drawn])
        try:
            made = model.fit(maxiter=200, tol=1e-14, tol_criterion="params")
        except (np.linalg.LinAlgError, ValueError, FloatingPointError):
            return None, "did not converge"
    if not made.converged or not np.abs(model.score(made.params)).max() <= SURE * len(own):
        return None, "did not converge"
    return np.asarray(made.params, dtype=np.float64), ""
