"""A proportion of everybody, from those observed, each weighted by the inverse of the chance of being observed.

Some rows may be known without being observed (whatever an observation would have shown, they count as they are):
they weigh 1 and are in no model. Right when being observed depends on nothing but what the model holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.observation_model import ObservationModel, fitted_model
from analysis.estimators.proportions import FloatArray, normal_quantile
from analysis.estimators.weights import (
    WeighedRows,
    checked_rows,
    cut_weights,
    normalised_weights,
    ordered_rows,
    resampled_estimates,
)

METHOD = "inverse probability weights, cluster bootstrap with the model refitted, percentile"


@dataclass(frozen=True)
class WeightedProportion:
    """The proportion in one group; None, with the reason, where there is none.

    n: rows that make the estimate (observed, or known without). unobserved: the others, which they stand for.
    n_effective: Kish's (sum w)^2 / sum w^2. largest_weight: after cutting and normalising. clusters: among those
    in n. not_estimable: resamples in which the group had no estimate; the limits are of the others.
    """

    estimate: float | None
    low: float | None
    high: float | None
    n: int
    unobserved: int
    n_effective: float | None
    largest_weight: float | None
    clusters: int
    not_estimable: int
    reason: str | None


@dataclass(frozen=True, eq=False)
class WeightedProportions:
    """One record a group, in the order of the codes, and what they share.

    modelled: rows that the model was fitted to; observed: of those. covariates: names of the columns in the model.
    truncated_at: the largest weight allowed, before normalising; truncated: rows that were cut to it. reason: why
    there is no model, None where there is one or none was needed. weights: of every row in the order given, 0 for the
    unobserved and where there is no model. draws: the estimate of each group in each
    resample, shape (replicates, groups), NaN where it had none; for contrasts between groups.
    """

    groups: tuple[WeightedProportion, ...]
    modelled: int
    observed: int
    covariates: tuple[str, ...]
    truncated_at: float | None
    truncated: int
    reason: str | None
    weights: FloatArray
    draws: FloatArray
    replicates: int
    seed: int
    level: float
    method: str = METHOD


def weighted_proportion(
    *,
    outcome: npt.ArrayLike,
    observed: npt.ArrayLike,
    weight_one: npt.ArrayLike,
    covariates: npt.ArrayLike,
    names: Sequence[str] | None = None,
    cluster: npt.ArrayLike,
    replicates: int = 2000,
    seed: int = 1,
    level: float = 0.95,
) -> WeightedProportion:
    """The weighted proportion of all rows as one group; see ``weighted_proportions``."""
    made = weighted_proportions(
        outcome=outcome,
        observed=observed,
        weight_one=weight_one,
        covariates=covariates,
        names=names,
        cluster=cluster,
        replicates=replicates,
        seed=seed,
        level=level,
    )
    return made.groups[0]


def weighted_proportions(
    *,
    outcome: npt.ArrayLike,
    observed: npt.ArrayLike,
    weight_one: npt.ArrayLike,
    covariates: npt.ArrayLike,
    names: Sequence[str] | None = None,
    cluster: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    groups: int = 1,
    replicates: int = 2000,
    seed: int = 1,
    level: float = 0.95,
) -> WeightedProportions:
    """Weighted proportions of several groups by one model of being observed, with bootstrap intervals.

    One row a unit. outcome: 0/1 or bool, shape (rows,); looked at only where it is observed or known without (NaN
    elsewhere is fine). observed: bool. weight_one: bool, known without being observed: weight 1 and in no model,
    whatever `observed` says. covariates: numbers, shape (rows, columns), none missing: indicators for levels, of
    which one is left out, and for what is missing. names: of the columns, for the reasons. cluster: whole codes or
    words, drawn whole in resamples. group: whole codes 0 to groups - 1, or -1 for a row that is in no group and yet
    in the model; None puts all in one. replicates: resamples; 0 gives no limits.

    A logistic model of `observed` is fitted to all rows that are not of weight one, covariates standardised. Each
    observed row weighs 1 / its fitted chance, cut at the 99th percentile of these weights over all groups (the
    smallest weight below or at which 99 % of observed rows lie), and then normalised within its group so that the
    observed of a group weigh what its modelled rows number:

        estimate = (sum of outcomes of weight one + N_modelled sum(w y) / sum(w)) / (N_one + N_modelled).

    Limits: clusters are drawn with replacement, the model is refitted, weights cut and normalised anew in each
    resample, and the quantiles (1 -+ level)/2 at position (m + 1) p taken. When every modelled row is observed all
    weigh 1 and no model is made. The same seed gives the same numbers whatever the order of rows.

    A model that is separated or does not converge, and a group with modelled rows of which none is observed, give
    None with the reason. Horvitz DG, Thompson DJ, J Am Stat Assoc 1952;47:663-685; normalised: Hajek J, 1971, in
    Foundations of Statistical Inference; cutting: Cole SR, Hernan MA, Am J Epidemiol 2008;168:656-664; effective
    size: Kish L, Survey Sampling, Wiley 1965 [all from memory]. Raises ValueError for unequal lengths, missing
    covariates, an outcome other than 0 and 1, a code out of range, replicates below 0, or level.
    """
    return several_weighted_proportions(
        outcomes=np.asarray(outcome, dtype=np.float64).reshape(-1, 1),
        observed=observed,
        weight_one=weight_one,
        covariates=covariates,
        names=names,
        cluster=cluster,
        group=group,
        groups=groups,
        replicates=replicates,
        seed=seed,
        level=level,
    )[0]


def several_weighted_proportions(
    *,
    outcomes: npt.ArrayLike,
    observed: npt.ArrayLike,
    weight_one: npt.ArrayLike,
    covariates: npt.ArrayLike,
    names: Sequence[str] | None = None,
    cluster: npt.ArrayLike,
    group: npt.ArrayLike | None = None,
    groups: int = 1,
    replicates: int = 2000,
    seed: int = 1,
    level: float = 0.95,
) -> tuple[WeightedProportions, ...]:
    """The same of several outcomes that are observed in the same rows, by one model and the same resamples.

    outcomes: shape (rows, outcomes); each fares as it would alone. All else as in ``weighted_proportions``.
    """
    normal_quantile(level=level)
    if replicates < 0:
        raise ValueError(f"replicates is {replicates}; give 0 for no limits, 2000 are usual.")
    rows, order = ordered_rows(checked_rows(outcomes, observed, weight_one, covariates, cluster, group, groups))
    columns = tuple(names) if names is not None else tuple(f"column {at}" for at in range(rows.covariates.shape[1]))
    model, reason = _model(rows, columns)
    truncated_at, weights = None, np.zeros(len(rows.group))
    if reason is None:
        truncated_at, weights = _first_weights(rows, model)
    as_given = np.empty_like(weights)
    as_given[order] = weights
    truncated = 0
    if model is not None and truncated_at is not None:
        truncated = int((1.0 / model.chance[rows.observed[rows.modelled]] > truncated_at).sum())
    many = rows.outcomes.shape[1]
    draws = np.full((many, replicates, groups), np.nan)
    if reason is None and replicates:
        draws = resampled_estimates(rows, model, replicates, seed)
    return tuple(
        WeightedProportions(
            groups=tuple(_one(at, rows, each, weights, draws[each, :, at], level, reason) for at in range(groups)),
            modelled=int(rows.modelled.sum()),
            observed=int((rows.modelled & rows.observed).sum()),
            covariates=model.names[1:] if model else (),
            truncated_at=truncated_at,
            truncated=truncated,
            reason=reason,
            weights=as_given,
            draws=draws[each],
            replicates=replicates,
            seed=seed,
            level=level,
        )
        for each in range(many)
    )


def _model(rows: WeighedRows, names: tuple[str, ...]) -> tuple[ObservationModel | None, str | None]:
    seen = rows.observed[rows.modelled]
    if seen.all():
        return None, None  # nothing to weigh, the empty case included
    if not seen.any():
        return None, f"none of the {len(seen)} that could have been observed were"
    return fitted_model(seen, rows.covariates[rows.modelled], names)


def _first_weights(rows: WeighedRows, model: ObservationModel | None) -> tuple[float | None, FloatArray]:
    """The cap and the normalised weight of each row, 0 for the unobserved."""
    seen = (rows.modelled & rows.observed)[:, None]
    chance = np.ones((len(rows.group), 1))
    if model is not None:
        chance[rows.modelled, 0] = model.chance
    times = np.ones_like(chance)
    raw, caps = cut_weights(np.where(seen, 1.0 / chance, 0.0), times)
    weighed = normalised_weights(raw, times, rows)[:, 0]
    return (float(caps[0]) if model is not None else None), np.where(rows.weight_one, 1.0, weighed)


def _one(
    at: int, rows: WeighedRows, which: int, weights: FloatArray, draws: FloatArray, level: float, reason: str | None
) -> WeightedProportion:
    own = rows.group == at
    counted = own & (rows.weight_one | rows.observed)
    n, unobserved = int(counted.sum()), int((own & ~counted).sum())
    clusters = len(np.unique(rows.cluster[counted]))
    if reason is None and unobserved and not (counted & rows.modelled).any():
        reason = f"none of the {unobserved} that could have been observed were"
    if reason is None and not n:
        reason = "nobody is in the group"
    if reason is not None:
        return WeightedProportion(None, None, None, n, unobserved, None, None, clusters, 0, reason)
    w = weights[counted]
    low, high, lacking, why = _limits(draws, level, clusters)
    return WeightedProportion(
        estimate=min(1.0, float(w @ rows.outcomes[counted, which] / w.sum())),
        low=low,
        high=high,
        n=n,
        unobserved=unobserved,
        n_effective=float(w.sum() ** 2 / (w @ w)),
        largest_weight=float(w.max()),
        clusters=clusters,
        not_estimable=lacking,
        reason=why,
    )


def _limits(draws: FloatArray, level: float, clusters: int) -> tuple[float | None, float | None, int, str | None]:
    if not len(draws):
        return None, None, 0, None
    kept = draws[np.isfinite(draws)]
    lacking = len(draws) - len(kept)
    if clusters < 2:
        return None, None, lacking, "fewer than two clusters"
    if not len(kept) or kept.max() - kept.min() < 1e-12:  # but for rounding
        return None, None, lacking, "every resample gives the same value"
    tail = (1.0 - level) / 2.0
    low, high = np.quantile(kept, [tail, 1.0 - tail], method="weibull")
    return float(low), min(1.0, float(high)), lacking, None
