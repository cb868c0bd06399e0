"""Proportional odds: one odds ratio for lying at any level or above, whatever the cut."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.cumulative import Cumulative, Maximum
from analysis.estimators.regression.dependent import refuse_dependent
from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable, effect
from analysis.estimators.regression.ordered_levels import Levels, carried, ordered_levels, without_intercept

FURTHEST = 40.0
"""How many standard errors off a profile limit is looked for."""


def proportional_odds(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    levels: Sequence[str],
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Fitted:
    """Fit log odds of lying at or below a cut = cut - x b, so that a positive coefficient speaks for higher levels.

    outcome: whole codes of `levels` from 0, shape (rows,), without gaps (a table of counts is given row by row). x:
    shape (rows, p), the intercept first; the cuts take its place. names: of the p columns. cluster: shape (rows,),
    None for the model's own covariance. events_per_parameter, force: as `logistic`, counting the rows beyond the
    commonest level. McCullagh P, J R Stat Soc B 1980;42:109-142.

    The coefficients are the cuts, then the columns (`slope_places`, `slopes`). extra: levels, counts, cuts (words),
    free (none), log_likelihood_alone (cuts only), rows_beyond_commonest.
    Raises NotEstimable as `logistic`; ValueError for codes that are no level, or an x without intercept.
    """
    made = ordered_levels(outcome, levels)
    columns = without_intercept(x)
    refuse_dependent(x, names)
    remarks = made.remarks + carried(made, columns.shape[1], events_per_parameter, force=force)
    model = Cumulative(made.code, columns, columns[:, :0], len(made.cuts))
    labels = [*made.cuts, *names[1:]]
    at = fit_or_refuse(model, labels)
    return as_fitted(
        model, at, labels, made, cluster=cluster, correction=correction, remarks=remarks, kind="proportional odds"
    )


def fit_or_refuse(model: Cumulative, names: list[str], start: FloatArray | None = None) -> Maximum:
    """The maximum; raises NotEstimable where there is none, or where the search does not find it."""
    from analysis.estimators.regression.cumulative import FAR, MOST_STEPS

    at = model.maximum(start)
    if at is None or _furthest(model, at.parameters) > FAR:
        model.refuse_separated(names)
    if at is None:
        raise NotEstimable(
            f"The ordered model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer terms, "
            "join levels, or give columns on scales that are more alike."
        )
    return at


def _furthest(model: Cumulative, b: FloatArray) -> float:
    """The largest log odds at the ends of the rows' own levels."""
    ends = np.concatenate([model.towards(model.y) @ b, model.towards(model.y - 1) @ b])
    return float(np.abs(ends).max())


def as_fitted(
    model: Cumulative,
    at: Maximum,
    names: list[str],
    levels: Levels,
    *,
    cluster: npt.ArrayLike | None,
    correction: Correction,
    remarks: tuple[str, ...],
    kind: str,
) -> Fitted:
    """The record of a maximum, with the covariance asked for."""
    covariance: FloatArray = np.asarray(np.linalg.inv(at.information), dtype=np.float64)
    clusters, method = None, "from the model (inverse information)"
    if cluster is not None:
        covariance, clusters = cluster_covariance(
            bread=covariance, scores=at.scores, cluster=cluster, correction=correction
        )
        method = CORRECTIONS[correction]
    counts = np.asarray(levels.counts, dtype=np.float64)
    return Fitted(
        kind=kind,
        names=tuple(names),
        coefficients=at.parameters,
        covariance=covariance,
        covariance_method=method,
        n=len(model.y),
        clusters=clusters,
        log_likelihood=at.log_likelihood,
        remarks=remarks,
        extra={
            "levels": levels.names,
            "counts": levels.counts,
            "cuts": levels.cuts,
            "free": (),
            "log_likelihood_alone": float(counts @ np.log(counts / counts.sum())),
            "rows_beyond_commonest": levels.beyond_commonest,
        },
    )


def slope_places(fit: Fitted, places: npt.ArrayLike) -> npt.NDArray[np.int64]:
    """Where columns of x (places counted with the intercept, as a design counts them) stand in a proportional fit."""
    at = np.asarray(places, dtype=np.int64)
    if (at < 1).any():
        raise ValueError("The intercept has no place in an ordered model; its cuts stand for it.")
    return at + len(fit.extra["cuts"]) - 1


def slopes(fit: Fitted, labels: Sequence[str] | None = None, *, level: float = 0.95) -> list[Effect]:
    """The odds ratios of a proportional fit, for lying at any level or above; labels stand for the names."""
    cuts, width = len(fit.extra["cuts"]), len(fit.names)
    said = fit.names[cuts:] if labels is None else labels
    return [effect(fit, np.eye(width)[cuts + at], label, level=level) for at, label in enumerate(said)]


def profile_limits(
    outcome: npt.ArrayLike, x: FloatArray, fit: Fitted, place: int, *, level: float = 0.95
) -> tuple[float, float]:
    """Profile-likelihood limits of one coefficient (not exponentiated) of a proportional fit of independent rows.

    place: of the column in x, the intercept counted. The others are fitted at each value of it; the limits are where
    twice the fall of the log likelihood reaches the chi-squared quantile (Venzon DJ, Moolgavkar SH, Appl Stat
    1988;37:87-94), found by a bracketed root search. Raises NotEstimable when none is found.
    """
    from scipy import optimize, stats

    code = ordered_levels(np.asarray(outcome), [str(at) for at in range(int(np.max(outcome)) + 1)]).code
    columns, at = without_intercept(x), int(slope_places(fit, place))
    others, cuts = np.delete(columns, place - 1, axis=1), len(fit.extra["cuts"])
    near = np.delete(fit.coefficients, at)
    wanted, best = float(stats.chi2.ppf(level, 1)), float(fit.log_likelihood or math.nan)
    centre, unit = float(fit.coefficients[at]), float(fit.standard_errors[at])

    def fall(value: float) -> float:
        held = Cumulative(code, others, others[:, :0], cuts, offset=value * columns[:, place - 1])
        found = held.maximum(near) or held.maximum()
        if found is None:
            raise NotEstimable(f"The profile of {fit.names[at]} did not converge, so that no limit is given.")
        return 2 * (best - found.log_likelihood) - wanted

    def limit(sign: float) -> float:
        steps = 1.0
        while fall(centre + sign * steps * unit) < 0:
            steps *= 2
            if steps > FURTHEST:
                raise NotEstimable(f"A profile limit of {fit.names[at]} lies too far out to be told from none.")
        ends = sorted((centre, centre + sign * steps * unit))
        return float(optimize.brentq(fall, *ends, xtol=1e-10 * unit, rtol=1e-12))

    return limit(-1.0), limit(1.0)
