"""What a fitted model is: a frozen record from which every effect, test and prediction is worked out."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile

FloatArray = npt.NDArray[np.float64]


class NotEstimable(ValueError):  # noqa: N818  (a state of the answer rather than a fault of the program)
    """A model that these data cannot answer; its text is one paragraph: why, and what could be done instead."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitted:
    """A fitted regression.

    kind: what was fitted, in words. names: of the coefficients. coefficients: shape (p,). covariance: shape (p, p), the
    one the intervals are made from; covariance_method names it. n: rows. events: of a yes/no outcome, else None.
    clusters: when the covariance allows for them. df: of the t distribution the limits come from; None is the normal.
    log_likelihood: None where there is none. scale: what exp(coefficient) is (`odds ratio`), or `difference` when
    coefficients are read as they are. remarks: what a reader has to know.
    """

    kind: str
    names: tuple[str, ...]
    coefficients: FloatArray
    covariance: FloatArray
    covariance_method: str
    n: int
    events: int | None = None
    clusters: int | None = None
    df: float | None = None
    log_likelihood: float | None = None
    scale: str = "odds ratio"
    remarks: tuple[str, ...] = ()
    extra: Mapping[str, Any] = field(default_factory=dict)

    @property
    def standard_errors(self) -> FloatArray:
        """Of the coefficients, shape (p,)."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def exponentiated(self) -> bool:
        """Whether effects are read as exp(coefficient)."""
        return self.scale != "difference"


@dataclass(frozen=True, kw_only=True)
class Effect:
    """One contrast of coefficients, on the scale it is read on (`exp` of it for a ratio); p of its being nothing."""

    label: str
    estimate: float
    low: float
    high: float
    standard_error: float
    p: float
    scale: str
    level: float


@dataclass(frozen=True, kw_only=True)
class WaldTest:
    """A joint test that several contrasts are all nothing."""

    label: str
    statistic: float
    df: int
    p: float
    test: str
    df_denominator: float | None = None


def effect(fit: Fitted, weights: npt.ArrayLike, label: str, *, level: float = 0.95) -> Effect:
    """A weighted sum of coefficients with its interval; on a ratio's scale both are exponentiated.

    weights: shape (p,). standard_error is of the sum itself (log scale of a ratio).
    """
    from scipy import stats

    w = np.asarray(weights, dtype=np.float64)
    value = float(w @ fit.coefficients)
    error = math.sqrt(max(float(w @ fit.covariance @ w), 0.0))
    half = limits_factor(fit, level) * error
    ratio = math.exp if fit.exponentiated else float
    statistic = abs(value) / error if error > 0 else np.inf
    p = 2 * (stats.norm.sf(statistic) if fit.df is None else stats.t.sf(statistic, fit.df))
    return Effect(
        label=label,
        estimate=float(ratio(value)),
        low=float(ratio(value - half)),
        high=float(ratio(value + half)),
        standard_error=error,
        p=float(p),
        scale=fit.scale,
        level=level,
    )


def limits_factor(fit: Fitted, level: float) -> float:
    """How many standard errors the limits lie off: of the normal, or of t with the fit's degrees of freedom."""
    if fit.df is None:
        return normal_quantile(level=level)
    from scipy import stats

    return float(stats.t.ppf((1 + level) / 2, fit.df))


def effects(fit: Fitted, labels: Sequence[str] | None = None, *, level: float = 0.95) -> list[Effect]:
    """Every coefficient as an effect, in order; labels: what stands for the names."""
    said = fit.names if labels is None else labels
    return [effect(fit, row, label, level=level) for row, label in zip(np.eye(len(said)), said, strict=True)]


def wald_test(fit: Fitted, places: npt.ArrayLike, label: str) -> WaldTest:
    """Whether the coefficients at `places` are all nothing: b' V^-1 b, chi-squared (F when the fit has a df).

    Raises NotEstimable when their covariance cannot be inverted.
    """
    from scipy import stats

    at = np.asarray(places, dtype=np.int64)
    b, v = fit.coefficients[at], fit.covariance[np.ix_(at, at)]
    if np.linalg.matrix_rank(v, hermitian=True) < len(at):
        raise NotEstimable(
            f"{label} cannot be tested: the covariance of its {len(at)} coefficients has a lower rank (fewer clusters "
            "than coefficients, as a rule)."
        )
    statistic = float(b @ np.linalg.solve(v, b))
    if fit.df is None:
        return WaldTest(
            label=label, statistic=statistic, df=len(at), p=float(stats.chi2.sf(statistic, len(at))), test="Wald"
        )
    p = float(stats.f.sf(statistic / len(at), len(at), fit.df))
    return WaldTest(label=label, statistic=statistic / len(at), df=len(at), p=p, test="Wald F", df_denominator=fit.df)
