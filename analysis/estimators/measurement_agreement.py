"""How far two measurements of the same thing lie apart: limits of agreement, repeatability, intraclass correlation."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile

Form = Literal["1,1", "2,1", "3,1"]
FORMS: dict[Form, str] = {
    "1,1": "ICC(1,1), each thing measured by other readers (Shrout and Fleiss)",
    "2,1": "ICC(2,1), agreement of readers drawn at random (Shrout and Fleiss)",
    "3,1": "ICC(3,1), consistency of these very readers (Shrout and Fleiss)",
}
FEWEST = 3
"""Pairs from which limits of agreement are given: with fewer a standard deviation says nothing."""


@dataclass(frozen=True)
class Limits:
    """bias: mean of first minus second, with limits by t; lower, upper: 95 % (or other) limits of agreement, each
    with its own interval (Bland and Altman's approximate standard error sqrt(3 s^2 / n)); repeatability: the
    difference that two readings of the same thing exceed in 5 % (or other share) of pairs, from the standard
    deviation within. All None with a reason where there are too few pairs.
    """

    n: int
    bias: float | None
    bias_low: float | None
    bias_high: float | None
    standard_deviation: float | None
    lower: float | None
    lower_low: float | None
    lower_high: float | None
    upper: float | None
    upper_low: float | None
    upper_high: float | None
    within_deviation: float | None
    repeatability: float | None
    level: float
    reason: str | None = None


def limits_of_agreement(first: npt.ArrayLike, second: npt.ArrayLike, *, level: float = 0.95) -> Limits:
    """Limits of agreement of two measurements of each thing, first minus second.

    first, second: shape (pairs,), same unit, none missing. Limits: mean difference -+ z s. Bland JM, Altman DG, Lancet
    1986;1:307-310. Raises ValueError for unequal lengths, missing values, or level.
    """
    z = normal_quantile(level=level)
    a, b = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    if a.ndim != 1 or a.shape != b.shape or not np.isfinite(a).all() or not np.isfinite(b).all():
        raise ValueError("Two measurements of each thing are needed: lists of one length, nothing missing.")
    difference = a - b
    n = len(difference)
    if n < FEWEST:
        nothing = (None,) * 12
        return Limits(n, *nothing, level, f"fewer than {FEWEST} pairs")
    from scipy.stats import t

    bias, deviation = float(difference.mean()), float(difference.std(ddof=1))
    quantile = float(t.ppf((1 + level) / 2, n - 1))
    of_bias, of_limit = (quantile * deviation * math.sqrt(share / n) for share in (1, 3))
    lower, upper = bias - z * deviation, bias + z * deviation
    within = float(np.sqrt(np.mean(difference**2) / 2))
    return Limits(
        n=n,
        bias=bias,
        bias_low=bias - of_bias,
        bias_high=bias + of_bias,
        standard_deviation=deviation,
        lower=lower,
        lower_low=lower - of_limit,
        lower_high=lower + of_limit,
        upper=upper,
        upper_low=upper - of_limit,
        upper_high=upper + of_limit,
        within_deviation=within,
        repeatability=z * math.sqrt(2) * within,
        level=level,
    )


@dataclass(frozen=True)
class IntraclassCorrelation:
    """estimate, low, high: None with a reason where there is none. n: things measured; readers: times each."""

    estimate: float | None
    low: float | None
    high: float | None
    n: int
    readers: int
    method: str
    level: float
    reason: str | None = None


def intraclass_correlation(ratings: npt.ArrayLike, *, form: Form = "2,1", level: float = 0.95) -> IntraclassCorrelation:
    """Intraclass correlation of single measurements.

    ratings: shape (things, readers), one unit, none missing. form: which readers are thought of, see FORMS; with 1,1
    the order of a row does not matter. F-based limits, of 2,1 with Satterthwaite's degrees of freedom. Shrout PE,
    Fleiss JL, Psychol Bull 1979;86:420-428. No estimate for fewer than two things, or when everything measured the
    same. Raises ValueError for another shape, missing values, form or level.
    """
    normal_quantile(level=level)
    x = np.asarray(ratings, dtype=np.float64)
    if x.ndim != 2 or (x.size and not np.isfinite(x).all()):
        raise ValueError("Ratings are a table, things by readers, with nothing missing.")
    if form not in FORMS:
        raise ValueError(f"There is no form {form!r}; choose one of {', '.join(FORMS)}.")
    n, k = x.shape
    if n < 2 or k < 2:
        return IntraclassCorrelation(None, None, None, n, k, FORMS[form], level, "fewer than two things or readers")
    whole = x.mean()
    rows = k * float(((x.mean(axis=1) - whole) ** 2).sum()) / (n - 1)
    columns = n * float(((x.mean(axis=0) - whole) ** 2).sum()) / (k - 1)
    residual = x - x.mean(axis=1, keepdims=True) - x.mean(axis=0, keepdims=True) + whole
    error = float((residual**2).sum()) / ((n - 1) * (k - 1))
    within = float(((x - x.mean(axis=1, keepdims=True)) ** 2).sum()) / (n * (k - 1))
    if rows <= 0 and within <= 0:
        why = "everything measured the same, so that nothing tells things apart"
        return IntraclassCorrelation(None, None, None, n, k, FORMS[form], level, why)
    if form == "1,1":
        made = _one_way(rows, within, n, k, level)
    elif form == "3,1":
        made = _consistency(rows, error, n, k, level)
    else:
        made = _agreement(rows, columns, error, n, k, level)
    return IntraclassCorrelation(*made, n, k, FORMS[form], level)


def _between(ratio: float, k: int) -> float:
    return (ratio - 1) / (ratio + k - 1)


def _by_ratio(
    top: float, bottom: float, df: tuple[float, float], k: int, level: float
) -> tuple[float, float | None, float | None]:
    """Estimate and limits that depend on the data by one ratio of mean squares alone."""
    from scipy.stats import f

    if bottom <= 0:
        return 1.0, None, None  # readers agree to the last digit: no spread to judge by
    observed, p = top / bottom, (1 + level) / 2
    low = observed / float(f.ppf(p, df[0], df[1]))
    high = observed * float(f.ppf(p, df[1], df[0]))
    return _between(observed, k), _between(low, k), _between(high, k)


def _one_way(rows: float, within: float, n: int, k: int, level: float) -> tuple[float, float | None, float | None]:
    return _by_ratio(rows, within, (n - 1, n * (k - 1)), k, level)


def _consistency(rows: float, error: float, n: int, k: int, level: float) -> tuple[float, float | None, float | None]:
    return _by_ratio(rows, error, (n - 1, (n - 1) * (k - 1)), k, level)


def _agreement(
    rows: float, columns: float, error: float, n: int, k: int, level: float
) -> tuple[float, float | None, float | None]:
    from scipy.stats import f

    estimate = (rows - error) / (rows + (k - 1) * error + k * (columns - error) / n)
    if error <= 0:
        return estimate, None, None
    ratio = columns / error
    top = (k - 1) * (n - 1) * (k * estimate * ratio + n * (1 + (k - 1) * estimate) - k * estimate) ** 2
    bottom = (n - 1) * k**2 * estimate**2 * ratio**2 + (n * (1 + (k - 1) * estimate) - k * estimate) ** 2
    df = top / bottom
    p = (1 + level) / 2
    up, down = float(f.ppf(p, n - 1, df)), float(f.ppf(p, df, n - 1))
    low = n * (rows - up * error) / (up * (k * columns + (k * n - k - n) * error) + n * rows)
    high = n * (down * rows - error) / (k * columns + (k * n - k - n) * error + n * down * rows)
    return estimate, low, high
