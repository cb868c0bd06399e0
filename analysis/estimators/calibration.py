"""Whether predicted probabilities come true: Brier score, calibration in the large, slope, groups of like risk."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile, proportion_interval


@dataclass(frozen=True)
class Limited:
    """An estimate with its standard error and normal limits; all None with the reason where there is none."""

    estimate: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    reason: str | None = None


@dataclass(frozen=True)
class RiskGroup:
    """Those of like predicted risk: how many, with the outcome, mean prediction, observed share with its interval."""

    n: int
    events: int
    predicted_low: float
    predicted_high: float
    predicted: float
    observed: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class GoodnessOfFit:
    """Hosmer-Lemeshow: p on `groups` degrees of freedom, as fits predictions made elsewhere, and on groups - 2, as
    fits those of a model made from the same rows."""

    statistic: float
    groups: int
    p_external: float
    p_own: float | None


@dataclass(frozen=True)
class Calibration:
    """brier: mean squared error; brier_scaled: 1 - brier / that of the overall rate. observed_to_expected: events over
    the sum of probabilities. in_the_large: intercept with the logit of the probability as offset, 0 when right on
    average. slope: coefficient of that logit, 1 when neither too extreme nor too timid; slope_intercept beside it.
    """

    n: int
    events: int
    brier: float | None
    brier_scaled: float | None
    observed_to_expected: float | None
    in_the_large: Limited
    slope: Limited
    slope_intercept: float | None
    curve: tuple[RiskGroup, ...]
    goodness_of_fit: GoodnessOfFit | None
    level: float
    reason: str | None = None


NONE = Limited(None, None, None, None)


def calibration(
    outcome: npt.ArrayLike, probability: npt.ArrayLike, level: float = 0.95, *, groups: int = 10
) -> Calibration:
    """How predictions compare with what happened.

    outcome: 0/1 or bool, shape (rows,). probability: predicted, 0 to 1. groups: of like risk, between quantiles of the
    probability (linear between order statistics, those alike merged), closed above, the first closed below too.

    Brier GW, Mon Weather Rev 1950;78:1-3; in the large and slope: Cox DR, Biometrika 1958;45:562-565, by logistic
    regression (statsmodels); scaled Brier and the whole set: Steyerberg EW et al., Epidemiology 2010;21:128-138.
    Hosmer DW, Lemeshow S, Commun Stat Theory Methods 1980;9:1043-1069: sum of (O - E)^2 / (E (1 - E/n)). Rows are
    taken as independent. A probability of 0 or 1 has no logit: in the large and slope then say so; likewise where one
    outcome does not occur, all probabilities are alike, or the outcome is told apart without error. Raises ValueError
    for unequal lengths, missing values, values out of range, fewer than 2 groups, or level.
    """
    z = normal_quantile(level=level)
    y, p = _checked(outcome, probability, groups)
    n, events = len(y), int(y.sum())
    if not n:
        return Calibration(0, 0, None, None, None, NONE, NONE, None, (), None, level, "there is nobody")
    brier, rate = float(np.mean((p - y) ** 2)), events / n
    plain = rate * (1 - rate)
    curve = risk_groups(y, p, groups=groups, level=level)
    large, slope, intercept = _logistic(y, p, z)
    return Calibration(
        n=n,
        events=events,
        brier=brier,
        brier_scaled=1 - brier / plain if plain else None,
        observed_to_expected=events / float(p.sum()) if p.sum() > 0 else None,
        in_the_large=large,
        slope=slope,
        slope_intercept=intercept,
        curve=curve,
        goodness_of_fit=_hosmer_lemeshow(curve),
        level=level,
    )


def risk_groups(
    outcome: npt.ArrayLike, probability: npt.ArrayLike, *, groups: int = 10, level: float = 0.95
) -> tuple[RiskGroup, ...]:
    """The calibration curve in groups of like risk, Wilson's interval for what was observed; see `calibration`."""
    y, p = _checked(outcome, probability, groups)
    if not len(y):
        return ()
    cuts = np.unique(np.quantile(p, np.arange(1, groups) / groups))
    code = np.searchsorted(cuts, p, side="left")
    made = []
    for at in np.unique(code):
        own = code == at
        n, events = int(own.sum()), int(y[own].sum())
        limits = proportion_interval(events=events, n=n, level=level)
        spread = float(p[own].min()), float(p[own].max())
        made.append(RiskGroup(n, events, *spread, float(p[own].mean()), events / n, limits.low, limits.high))
    return tuple(made)


def _checked(outcome: npt.ArrayLike, probability: npt.ArrayLike, groups: int) -> tuple[FloatArray, FloatArray]:
    y, p = np.asarray(outcome, dtype=np.float64), np.asarray(probability, dtype=np.float64)
    if y.ndim != 1 or y.shape != p.shape:
        raise ValueError(
            f"outcome and probability must be lists of equal length; their shapes are {y.shape} and {p.shape}."
        )
    if not np.isin(y, (0.0, 1.0)).all():
        raise ValueError("outcome must be 0 or 1 in every row; leave rows where it is missing out beforehand.")
    if not ((p >= 0) & (p <= 1)).all():
        raise ValueError("A probability lies between 0 and 1; some are missing or outside.")
    if groups < 2:
        raise ValueError(f"groups is {groups}; at least 2 are needed, 10 are usual.")
    return y, p


def _logistic(y: FloatArray, p: FloatArray, z: float) -> tuple[Limited, Limited, float | None]:
    def without(reason: str) -> Limited:
        return Limited(None, None, None, None, reason)

    if not 0 < y.sum() < len(y):
        nothing = without("one of the two outcomes does not occur")
        return nothing, nothing, None
    if ((p <= 0) | (p >= 1)).any():
        nothing = without("a predicted probability of 0 or 1 has no logit")
        return nothing, nothing, None
    logit = np.log(p / (1 - p))
    large = _limited(_fit(y, np.ones((len(y), 1)), offset=logit), 0, z)
    if np.ptp(logit) < 1e-9:  # alike but for rounding
        return large, without("all predicted probabilities are alike"), None
    if _apart(y, logit):
        return large, without("the prediction tells the outcomes apart without error, so that no slope is finite"), None
    fitted = _fit(y, np.column_stack([np.ones(len(y)), logit]))
    slope = _limited(fitted, 1, z)
    return large, slope, None if fitted is None else float(fitted.params[0])


def _apart(y: FloatArray, logit: FloatArray) -> bool:
    """Whether the highest of one outcome is no higher than the lowest of the other."""
    with_it, without = logit[y == 1], logit[y == 0]
    return bool(without.max() <= with_it.min() or with_it.max() <= without.min())


def _fit(y: FloatArray, design: FloatArray, offset: FloatArray | None = None) -> Any:
    import statsmodels.api as sm
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            model = sm.GLM(y, design, family=sm.families.Binomial(), offset=offset)
            made = model.fit(tol=1e-13, tol_criterion="deviance", maxiter=200)
        except (PerfectSeparationWarning, RuntimeWarning):
            return None
    return made if made.converged else None


def _limited(fitted: Any, place: int, z: float) -> Limited:
    if fitted is None:
        return Limited(None, None, None, None, "the logistic regression did not settle")
    estimate, error = float(fitted.params[place]), float(fitted.bse[place])
    return Limited(estimate, error, estimate - z * error, estimate + z * error)


def _hosmer_lemeshow(curve: tuple[RiskGroup, ...]) -> GoodnessOfFit | None:
    """None with fewer than two groups, or where a group's predictions allow no error (all 0 or all 1)."""
    from scipy.stats import chi2

    expected = [group.n * group.predicted for group in curve]
    spread = [of * (1 - of / group.n) for of, group in zip(expected, curve, strict=True)]
    if len(curve) < 2 or min(spread) <= 0:
        return None
    terms = [(g.events - of) ** 2 / v for g, of, v in zip(curve, expected, spread, strict=True)]
    statistic, size = math.fsum(terms), len(curve)
    own = float(chi2.sf(statistic, size - 2)) if size > 2 else None
    return GoodnessOfFit(statistic, size, float(chi2.sf(statistic, size)), own)
