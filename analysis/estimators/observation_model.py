"""The chance of being observed, by logistic regression on what is recorded of everybody.

The model is fitted once by Newton's method, and again in every resample of clusters, warm-started from the first.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray

BoolArray = npt.NDArray[np.bool_]
WIDEST_ERROR = 10.0
"""A standardised coefficient with a larger standard error has no finite estimate: its level is separated."""
STEPS = 15
NEAR_ENOUGH = 1e-3
CELLS_AT_ONCE = 1_000_000


@dataclass(frozen=True, eq=False)
class ObservationModel:
    """design: shape (rows, columns), an intercept and the standardised columns that are not aliased. coefficients:
    of those columns. names: of those columns, the intercept first. chance: fitted, shape (rows,).
    """

    design: FloatArray
    coefficients: FloatArray
    names: tuple[str, ...]
    chance: FloatArray


def fitted_model(
    observed: BoolArray, covariates: FloatArray, names: Sequence[str]
) -> tuple[ObservationModel | None, str | None]:
    """The model, or None and the reason there is none.

    observed: shape (rows,). covariates: shape (rows, columns), none missing. names: of the columns. Constant columns
    and those that others determine are left out, which changes no chance.
    """
    design, kept = standard_design(covariates, names)
    if len(design) <= design.shape[1]:
        return None, f"{len(design)} rows are too few for a model of {design.shape[1]} coefficients"
    if (named := _separated_level(observed, design, kept)) is not None:
        return None, f"the model of being observed is separated: {named}"
    from statsmodels.discrete.discrete_model import Logit  # a second of import: only for who asks

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            fit = Logit(observed.astype(np.float64), design).fit(method="newton", maxiter=50, disp=0)
            errors = np.asarray(fit.bse, dtype=np.float64)
    except (Warning, np.linalg.LinAlgError, ArithmeticError, ValueError):
        return None, "the model of being observed did not converge; some mix of what is recorded decides it wholly"
    if not np.isfinite(errors).all() or errors.max() > WIDEST_ERROR:
        worst = kept[int(np.nanargmax(np.where(np.isfinite(errors), errors, np.inf)))]
        return None, f"the model of being observed is separated: {worst} has no finite coefficient"
    chance = np.asarray(fit.predict(), dtype=np.float64)
    return ObservationModel(design, np.asarray(fit.params, dtype=np.float64), kept, chance), None


def standard_design(covariates: FloatArray, names: Sequence[str]) -> tuple[FloatArray, tuple[str, ...]]:
    """An intercept and the columns with mean 0 and standard deviation 1, without constant and aliased ones."""
    columns = [np.ones(len(covariates))]
    kept = ["intercept"]
    basis = [columns[0] / max(1.0, np.sqrt(len(covariates)))]
    for name, column in zip(names, covariates.T, strict=True):
        spread = column.std() if len(column) else 0.0
        if not spread > 1e-12 * max(1.0, float(np.abs(column).max(initial=0.0))):
            continue
        standard = (column - column.mean()) / spread
        rest = standard.copy()
        directions = np.stack(basis)
        for _ in range(2):  # twice, so that rounding cannot hide an alias
            rest -= directions.T @ (directions @ rest)
        length = float(np.sqrt(rest @ rest))
        if length > 1e-7 * np.sqrt(len(column)):
            columns.append(standard)
            kept.append(name)
            basis.append(rest / length)
    return np.column_stack(columns), tuple(kept)


def _separated_level(observed: BoolArray, design: FloatArray, names: Sequence[str]) -> str | None:
    """The first column of two values whose rows at one of them were all observed, or none of them."""
    for name, column in zip(names[1:], design.T[1:], strict=True):
        values = np.unique(column)
        if len(values) != 2:
            continue
        # The level, which is the rarer or higher value, is spoken of; its complement separates as well.
        for value, said in ((values[1], name), (values[0], f"not {name}")):
            of_level = observed[column == value]
            if of_level.all() or not of_level.any():
                who = "all" if of_level.all() else "none"
                return f"{who} of the {len(of_level)} with {said} were observed"
    return None


def refitted_chances(model: ObservationModel, observed: BoolArray, times: FloatArray) -> FloatArray:
    """The fitted chances of every row in each resample, shape (rows, resamples).

    times: shape (rows, resamples), how often each row was drawn. Newton's steps from the first fit's coefficients
    with each resample's own information there, until they move by less than 0.001 a standard deviation or fifteen
    were taken: a level that a resample shows always observed tends to a chance of 1, as its fit would.
    """
    x, y = model.design, observed.astype(np.float64)[:, None]
    width, many = x.shape[1], times.shape[1]
    upper = np.triu_indices(width)
    packed = np.zeros((many, len(upper[0])))
    spread = (model.chance * (1 - model.chance))[:, None]
    at_once = max(1, CELLS_AT_ONCE // len(upper[0]))
    for start in range(0, len(x), at_once):
        part = slice(start, start + at_once)
        packed += (times[part] * spread[part]).T @ (x[part][:, upper[0]] * x[part][:, upper[1]])
    information = np.zeros((many, width, width))
    information[:, upper[0], upper[1]] = information[:, upper[1], upper[0]] = packed
    information += 1e-8 * max(1.0, len(x)) * np.eye(width)  # a level that nobody drew has no information
    inverse = np.linalg.inv(information)
    coefficients = np.repeat(model.coefficients[:, None], many, axis=1)
    chance = np.repeat(model.chance[:, None], many, axis=1)
    for _ in range(STEPS):
        score = x.T @ (times * (y - chance))
        step = np.clip(np.einsum("bij,jb->ib", inverse, score), -2.0, 2.0)
        coefficients += step
        chance = 1.0 / (1.0 + np.exp(-np.clip(x @ coefficients, -30.0, 30.0)))
        if np.abs(step).max(initial=0.0) < NEAR_ENOUGH:
            break
    return chance
