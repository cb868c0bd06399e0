"""Partial proportional odds: named terms have an odds ratio of their own at every cut, the others one over all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import Correction
from analysis.estimators.regression.cumulative import Cumulative
from analysis.estimators.regression.dependent import refuse_dependent
from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable, effect, wald_test
from analysis.estimators.regression.fitted import WaldTest as Joint
from analysis.estimators.regression.ordered_levels import carried, ordered_levels, without_intercept
from analysis.estimators.regression.ordinal import as_fitted, fit_or_refuse

LEAST_CHANCE = -1e-9


def partial_odds(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    levels: Sequence[str],
    free: npt.ArrayLike,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Fitted:
    """Fit log odds of lying at or below cut j = cut_j - common b - free g_j.

    free: places in x (the intercept counted, as a design counts them) of the columns with effects of their own a cut;
    all else as `proportional_odds`. Peterson B, Harrell FE, Appl Stat 1990;39:205-217 (unconstrained form).

    The coefficients are the cuts, the common columns, then the free columns cut by cut, named `column, at least II`;
    read them with `effects_by_cut`. Raises NotEstimable as `proportional_odds`, and when the fitted lines cross within
    the rows (some level would have a chance below 0); ValueError when no column is named, or the intercept is.
    """
    made = ordered_levels(outcome, levels)
    columns = without_intercept(x)
    refuse_dependent(x, names)
    own = np.unique(np.asarray(free, dtype=np.int64)) - 1
    if not len(own) or own.min() < 0 or own.max() >= columns.shape[1]:
        raise ValueError("free must name columns of x beyond the intercept.")
    rest = np.setdiff1d(np.arange(columns.shape[1]), own)
    cuts, said = len(made.cuts), list(names[1:])
    remarks = made.remarks + carried(made, len(rest) + cuts * len(own), events_per_parameter, force=force)
    model = Cumulative(made.code, columns[:, rest], columns[:, own], cuts)
    labels = [*made.cuts, *(said[at] for at in rest), *(f"{said[at]}, {cut}" for cut in made.cuts for at in own)]
    plain = Cumulative(made.code, columns[:, np.r_[rest, own]], columns[:, :0], cuts).maximum()
    start = None
    if plain is not None:
        shared = plain.parameters[cuts + len(rest) :]
        start = np.concatenate([plain.parameters[: cuts + len(rest)], np.tile(shared, cuts)])
    at = fit_or_refuse(model, labels, start)
    _refuse_crossing(model, at.parameters, made.names)
    fit = as_fitted(
        model,
        at,
        labels,
        made,
        cluster=cluster,
        correction=correction,
        remarks=remarks,
        kind="partial proportional odds",
    )
    return replace(fit, extra={**fit.extra, "free": tuple(said[each] for each in own)})


def _refuse_crossing(model: Cumulative, b: FloatArray, levels: Sequence[str]) -> None:
    below = model.below(b)
    crossing = np.flatnonzero((np.diff(below, axis=1) < LEAST_CHANCE).any(axis=0))
    if len(crossing):
        rows = int((np.diff(below, axis=1) < LEAST_CHANCE).any(axis=1).sum())
        raise NotEstimable(
            f"The partial model gives {rows:,} rows a chance below 0 of being at {levels[crossing[0] + 1]}: its lines "
            "cross within the data, so that no number is given. Free fewer terms, join levels, or read "
            "each cut by a logistic model of its own."
        )


def effects_by_cut(fit: Fitted, name: str, *, level: float = 0.95) -> list[Effect]:
    """The odds ratios of one free column, one for each cut, labelled by the cut: `at least II` against all below.

    Each is read as the odds ratio of a yes/no outcome split there. Raises ValueError for a column that is not free.
    """
    return [
        effect(fit, np.eye(len(fit.names))[at], cut, level=level)
        for at, cut in zip(_own(fit, name), fit.extra["cuts"], strict=True)
    ]


def same_over_cuts(fit: Fitted, columns: Sequence[str]) -> Joint:
    """Whether the effects of free columns are alike at every cut: a Wald test, cluster-robust when the fit is."""
    rows = []
    for name in columns:
        own = _own(fit, name)
        for at in own[1:]:
            row = np.zeros(len(fit.names))
            row[at], row[own[0]] = 1.0, -1.0
            rows.append(row)
    turn = np.stack(rows)
    turned = replace(
        fit,
        names=tuple(str(at) for at in range(len(turn))),
        coefficients=turn @ fit.coefficients,
        covariance=turn @ fit.covariance @ turn.T,
    )
    return wald_test(turned, np.arange(len(turn)), f"{', '.join(columns)}: alike at every cut")


def _own(fit: Fitted, name: str) -> list[int]:
    if name not in fit.extra["free"]:
        free = ", ".join(fit.extra["free"]) or "none"
        raise ValueError(f"{name!r} has one effect over all cuts in this fit; free are: {free}.")
    return [fit.names.index(f"{name}, {cut}") for cut in fit.extra["cuts"]]
