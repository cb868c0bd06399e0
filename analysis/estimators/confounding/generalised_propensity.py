"""Weights for an exposure with a handful of distinct values: the chance of the value received, given what was known."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.confounding.effective_size import effective_size
from analysis.estimators.regression.fitted import FloatArray, NotEstimable
from analysis.estimators.regression.separation import separating

Model = Literal["multinomial", "ordinal"]
IntArray = npt.NDArray[np.int64]
MOST_VALUES, LEAST_EACH = 12, 10
"""Distinct values above which, and rows of a value below which, there is no model: limits of ours."""
LEAST_EFFECTIVE, MOST_UNSUPPORTED = 5.0, 0.5
UNLIKELY = 1e-5
"""A fitted chance from which columns that tell a value without fail are looked for."""
MODELS: dict[Model, str] = {
    "multinomial": "multinomial logistic model of the value received",
    "ordinal": "proportional-odds model of the value received",
}
METHOD = "generalised propensity score, stabilised weights P(value) / P(value given covariates)"


@dataclass(frozen=True, kw_only=True)
class ValueReached:
    """One value of the exposure. chance_range: of receiving it, lowest and highest over all rows; effective: rows that
    its weighted rows are worth. unsupported: rows of other values whose chance of this one is below any that those
    who received it had."""

    value: float
    n: int
    share: float
    effective: float
    chance_range: tuple[float, float]
    largest_weight: float
    unsupported: int


@dataclass(frozen=True, kw_only=True, eq=False)
class GeneralisedPropensity:
    """values: distinct, rising. code: which of them each row has, shape (rows,). chances: of every value, shape (rows,
    values). weights: shape (rows,). scores: of each row by the parameters of the model, shape (rows, parameters), for
    errors that know it was estimated. cut: limits that weights were cut to, cut_rows how many were.
    """

    model: Model
    values: tuple[float, ...]
    code: IntArray
    chances: FloatArray
    weights: FloatArray
    scores: FloatArray
    reached: tuple[ValueReached, ...]
    clip: tuple[float, float] | None
    cut: tuple[float, float] | None
    is_cut: npt.NDArray[np.bool_]
    method: str = METHOD

    @property
    def cut_rows(self) -> int:
        """How many weights were cut."""
        return int(self.is_cut.sum())


def generalised_propensity(
    exposure: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    model: Model = "multinomial",
    clip: tuple[float, float] | None = None,
    least_each: int = LEAST_EACH,
    most_values: int = MOST_VALUES,
) -> GeneralisedPropensity:
    """Fit the chance of each value, and weigh every row by P(value) / P(value given x).

    exposure: shape (rows,), a number with few distinct values, without gaps; join near ones beforehand if they mean
    the same. x: shape (rows, p), intercept first, of what was known before. model: `multinomial` makes no use of the
    order; `ordinal` does, with fewer parameters, and is right only if covariates move all cuts alike. Neither law holds
    the other: weights by the wrong one leave some of the confounding, which the balance across values shows; shape the
    columns (splines) or take the other model. clip: quantiles of the weights beyond which they are set to them.

    Imbens GW, Biometrika 2000;87:706-710; stabilised weights: Robins JM, Hernan MA, Brumback B, Epidemiology
    2000;11:550-560. No normal density: with a handful of values that would weigh rows by a law that they do not have.
    Raises NotEstimable with one value, with more than `most_values`, with a value of fewer than `least_each` rows,
    where columns tell a value without fail (no overlap), when the model does not converge, when a value's weighted rows
    are worth fewer than 5, and when more than half of the others were less likely to have it than anybody who had.
    """
    if model not in MODELS:
        raise ValueError(f"{model!r} is no model of the value received; there are {', '.join(MODELS)}.")
    if clip is not None and not 0 <= clip[0] < clip[1] <= 1:
        raise ValueError(f"Weights are cut at quantiles that rise within 0 and 1, not {clip[0]:g} and {clip[1]:g}.")
    given = np.asarray(exposure, dtype=np.float64)
    if given.shape != (len(x),) or not np.isfinite(given).all():
        raise ValueError(f"exposure must hold {len(x):,} numbers, none missing or infinite.")
    values, code = np.unique(given, return_inverse=True)
    counts = np.bincount(code, minlength=len(values))
    _check_values(values, counts, least_each, most_values)
    free = _multinomial(code, len(values), x)  # an ordinal model would not see a value that some never have
    if free is None or free[0].min() < UNLIKELY:
        _check_overlap(values, code, x, names)
    made = free if model == "multinomial" else _ordinal(code, len(values), x)
    if made is None:
        other = "ordinal" if model == "multinomial" else "multinomial"
        raise NotEstimable(
            f"The {model} model of the value received did not converge, so that there are no weights. Use fewer "
            f"covariates, join values, or the {other} model."
        )
    chances, scores = made
    own = chances[np.arange(len(code)), code]
    weights = (counts / len(code))[code] / own
    cut, is_cut = None, np.zeros(len(code), dtype=bool)
    if clip is not None:
        low, high = (float(each) for each in np.quantile(weights, clip))
        cut, is_cut = (low, high), (weights < low) | (weights > high)
        weights = np.clip(weights, low, high)
    reached = tuple(_reached(at, values, code, chances, weights) for at in range(len(values)))
    for each in reached:
        if each.effective < LEAST_EFFECTIVE:
            raise NotEstimable(
                f"After weighting, the {each.n:,} rows at {each.value:g} are worth {each.effective:.1f} (effective "
                f"size), and at least {LEAST_EFFECTIVE:g} are needed: a few rows would decide. Cut the weights, leave "
                "that value out, or use fewer covariates."
            )
        if each.unsupported > MOST_UNSUPPORTED * (len(code) - each.n):
            raise NotEstimable(
                f"{each.unsupported:,} of the {len(code) - each.n:,} rows at other values were less likely to have "
                f"{each.value:g} than anybody who had it, so that those who had it cannot answer for them. Leave that "
                "value out, or compare patients who are more alike."
            )
    return GeneralisedPropensity(
        model=model,
        values=tuple(float(value) for value in values),
        code=code.astype(np.int64),
        chances=chances,
        weights=weights,
        scores=scores,
        reached=reached,
        clip=clip,
        cut=cut,
        is_cut=is_cut,
    )


def _check_values(values: FloatArray, counts: IntArray, least_each: int, most_values: int) -> None:
    if len(values) < 2:
        what = f"it is {values[0]:g} in all rows" if len(values) else "there is no row"
        raise NotEstimable(f"No effect of the exposure can be estimated: {what}.")
    if len(values) > most_values:
        raise NotEstimable(
            f"The exposure has {len(values)} distinct values, and the chance of each is modelled up to {most_values}. "
            "Join near values, or take it in bands."
        )
    few = [f"{value:g} ({many})" for value, many in zip(values, counts, strict=True) if many < least_each]
    if few:
        raise NotEstimable(
            f"These values of the exposure have fewer than {least_each} rows: {', '.join(few)}. Leave them out, or "
            "join them with a near value."
        )


def _check_overlap(values: FloatArray, code: IntArray, x: FloatArray, names: Sequence[str]) -> None:
    for at, value in enumerate(values):
        apart = separating((code == at).astype(np.float64), x, names)
        if apart:
            told = [name for name in apart if name != names[0]] or apart
            raise NotEstimable(
                f"There is no overlap: {', '.join(told)} tells without fail whether the exposure is {value:g}, for "
                "some rows or for all, so that these have no counterpart at another value. Leave such rows or that "
                "value out, or the column if it has nothing to do with the outcome."
            )


def _multinomial(code: IntArray, many: int, x: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Chances, and the scores by the coefficients of all values but the first."""
    import statsmodels.api as sm

    scale = np.abs(x).max(axis=0)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # not converging is named below
        try:
            made = sm.MNLogit(code, x / scale).fit(method="newton", maxiter=100, disp=0)
            converged = bool(made.mle_retvals["converged"])
        except np.linalg.LinAlgError:
            converged = False
    if not converged:
        return None
    chances = np.asarray(made.predict(), dtype=np.float64)
    left = (code[:, None] == np.arange(many)[None, :]) - chances
    scores = (left[:, 1:, None] * (x / scale)[:, None, :]).reshape(len(code), -1)
    return chances, scores


def _ordinal(code: IntArray, many: int, x: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    from analysis.estimators.ordered_logit import class_chances, fit_ordered_logit

    columns = x[:, 1:]
    columns = (columns - columns.mean(axis=0)) / columns.std(axis=0)
    fit = fit_ordered_logit(code, code, columns, many, prior_sd=np.inf, prior_rows=0.0)
    if not fit.converged:
        return None
    chances = class_chances(fit.cuts, fit.slopes, columns)
    ends = np.concatenate([[-np.inf], fit.cuts, [np.inf]])
    linear = columns @ fit.slopes
    tail = np.exp(-np.abs(ends[None, :] - linear[:, None]))
    density = tail / (1 + tail) ** 2
    rows = np.arange(len(code))
    own = chances[rows, code]
    upper, lower = density[rows, code + 1] / own, density[rows, code] / own
    place = np.arange(1, many)[None, :]
    by_cut = upper[:, None] * (code[:, None] + 1 == place) - lower[:, None] * (code[:, None] == place)
    return chances, np.hstack([by_cut, -(upper - lower)[:, None] * columns])


def _reached(at: int, values: FloatArray, code: IntArray, chances: FloatArray, weights: FloatArray) -> ValueReached:
    own, chance = code == at, chances[:, at]
    return ValueReached(
        value=float(values[at]),
        n=int(own.sum()),
        share=float(own.mean()),
        effective=effective_size(weights[own]),
        chance_range=(float(chance.min()), float(chance.max())),
        largest_weight=float(weights[own].max()),
        unsupported=int((chance[~own] < chance[own].min()).sum()),
    )
