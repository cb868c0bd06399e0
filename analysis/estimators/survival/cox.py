"""The Cox model: hazard ratios, with errors that allow for clusters, refused where the likelihood has no maximum."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.survival.cox_likelihood import (
    CoxSums,
    cox_sums,
    information,
    score,
    score_residuals,
    within_reach,
)
from analysis.estimators.survival.follow_up import FollowUp, follow_up
from analysis.estimators.survival.monotone import monotone
from analysis.estimators.survival.risk_sets import RiskSets, risk_sets

FAR, MOST_STEPS, SETTLED = 12.0, 40, 1e-9


def cox(
    time: npt.ArrayLike,
    event: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    strata: npt.ArrayLike | None = None,
    entry: npt.ArrayLike | None = None,
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Fitted:
    """Fit log hazard = unspecified function of time + x b; exp(b) is a hazard ratio.

    time, event, entry: as `follow_up`. x: shape (rows, p), without an intercept (the unspecified function takes its
    place). cluster: shape (rows,); the error is then Lin and Wei's sandwich, score residuals summed within clusters.
    strata: each has a function of time of its own. events_per_parameter, force: as `logistic`.

    Cox DR, J R Stat Soc B 1972;34:187-220; ties by Efron. extra: log_likelihood_alone, likelihood_ratio and score
    (statistic against no effect, on p degrees of freedom), concordance (Harrell FE et al, JAMA 1982;247:2543-2546),
    covariance_of_model, strata.
    Raises NotEstimable, with the reason, for no event, more parameters than the events carry, a likelihood without a
    maximum (the columns are named), columns that say the same, one cluster, or a search that does not converge.
    """
    data = follow_up(time, event, entry=entry)
    x = np.asarray(x, dtype=np.float64)
    layer = None if strata is None else np.asarray(strata)
    _check_shapes(data, x, names, layer)
    events = int(data.event.sum())
    remarks = _carried(events, x.shape[1], events_per_parameter, force=force)
    sets = risk_sets(data, layer)
    centred = (x - x.mean(axis=0))[sets.order]
    sums, alone = _fit(sets, centred, names)
    info = information(sets, sums[0])
    bread: FloatArray = np.asarray(np.linalg.inv(info), dtype=np.float64)
    covariance, clusters, method = bread, None, "from the model (inverse information)"
    if cluster is not None:
        residuals = score_residuals(sets, sums[0])
        covariance, clusters = cluster_covariance(
            bread=bread, scores=residuals, cluster=np.asarray(cluster)[sets.order], correction=correction
        )
        method = CORRECTIONS[correction]
        if clusters < 2:
            raise NotEstimable("There is one cluster, so that no error can be told. Leave the clustering out.")
    return Fitted(
        kind="Cox regression, Efron's ties",
        names=tuple(names),
        coefficients=sums[1],
        covariance=covariance,
        covariance_method=method,
        n=data.n,
        events=events,
        clusters=clusters,
        log_likelihood=sums[0].log_likelihood,
        scale="hazard ratio",
        remarks=remarks,
        extra={
            "log_likelihood_alone": alone.log_likelihood,
            "likelihood_ratio": 2 * (sums[0].log_likelihood - alone.log_likelihood),
            "score": _score_test(sets, alone),
            "concordance": concordance(data, x @ sums[1]) if layer is None else None,
            "covariance_of_model": bread,
            "strata": 1 if layer is None else len(np.unique(layer)),
        },
    )


def _check_shapes(data: FollowUp, x: FloatArray, names: Sequence[str], layer: npt.NDArray[np.generic] | None) -> None:
    if x.ndim != 2 or x.shape != (data.n, len(names)) or not np.isfinite(x).all():
        raise ValueError(f"x must be numbers of shape ({data.n}, {len(names)}), none missing, not {x.shape}.")
    if layer is not None and layer.shape != (data.n,):
        raise ValueError(f"strata must have one entry a row, {data.n}.")
    flat = [name for name, wide in zip(names, np.ptp(x, axis=0), strict=True) if wide == 0]
    if flat:
        raise NotEstimable(
            f"{', '.join(flat)} does not vary, so that it has no effect to estimate. A Cox model takes no intercept; "
            "leave the column out."
        )
    if not data.event.any():
        raise NotEstimable(f"No hazard can be estimated: none of {data.n:,} had the event. Ask of other rows.")


def _carried(events: int, parameters: int, wanted: float, *, force: bool) -> tuple[str, ...]:
    carries = int(events / wanted) if wanted > 0 else parameters
    if parameters <= carries:
        return ()
    said = (
        f"{parameters} parameters are asked of {events:,} events, {events / parameters:.1f} for each; at {wanted:g} "
        f"for each the data carry {carries}"
    )
    if force:
        return (f"{said}: read the estimates with that in mind.",)
    raise NotEstimable(
        f"The model has more parameters than the data carry: {said}. Leave terms out, or set events_per_parameter to "
        "another number that you can defend."
    )


def _fit(sets: RiskSets, x: FloatArray, names: Sequence[str]) -> tuple[tuple[CoxSums, FloatArray], CoxSums]:
    """Sums and coefficients at the maximum, and the sums at 0. Newton's method, halving steps that lead down."""
    spread = x.std(axis=0)
    scaled = x / spread
    b = np.zeros(x.shape[1])
    sums = cox_sums(sets, scaled, b)
    settled = False
    for _ in range(MOST_STEPS):
        slope, curve = score(sets, sums), information(sets, sums)
        if np.linalg.cond(curve) > 1e12:
            break
        step = within_reach(scaled, b, np.linalg.solve(curve, slope))
        new = cox_sums(sets, scaled, b + step)
        while new.log_likelihood < sums.log_likelihood - 1e-9 * abs(sums.log_likelihood) and np.abs(step).max() > 1e-12:
            step = step / 2
            new = cox_sums(sets, scaled, b + step)
        b, sums = b + step, new
        settled = bool(np.abs(step).max() < SETTLED and np.abs(score(sets, sums)).max() < 1e-4 * len(x))
        if settled:
            break
    if not settled or np.abs(scaled @ b).max() > FAR:
        _refuse(sets, x, names, settled=settled)
    return (cox_sums(sets, x, b / spread), b / spread), cox_sums(sets, x, np.zeros(len(b)))


def _refuse(sets: RiskSets, x: FloatArray, names: Sequence[str], *, settled: bool) -> None:
    endless = monotone(sets, x, names)
    if endless:
        raise NotEstimable(
            f"The likelihood has no maximum in {', '.join(endless)}: whoever has the event is always the highest in "
            "it of all at risk (a level in which nobody has the event, as a rule), so that a Cox model would print "
            "numbers without meaning. Leave the term out, join levels, or compare by the log-rank test."
        )
    if np.linalg.matrix_rank(x) < x.shape[1]:
        raise NotEstimable("Columns of the model say the same (a linear combination). Leave one of them out.")
    if not settled:
        raise NotEstimable(
            f"The Cox model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer terms, or "
            "columns on scales that are more alike."
        )


def _score_test(sets: RiskSets, alone: CoxSums) -> float:
    slope = score(sets, alone)
    return float(slope @ np.linalg.solve(information(sets, alone), slope))


def concordance(data: FollowUp, risk: FloatArray) -> float | None:
    """Of pairs whose order in time is known, the share in which the higher risk had the event first (ties count half).

    Harrell's C (lifelines). None when no pair can be ordered.
    """
    from lifelines.utils import concordance_index

    try:
        return float(concordance_index(data.time, -risk, data.event))
    except ZeroDivisionError:
        return None
