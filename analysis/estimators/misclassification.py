"""A proportion seen through a test that errs, corrected for its sensitivity and specificity."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.estimators.proportions import checked_counts, normal_quantile, wilson_limits

KNOWN_TEST = "Rogan-Gladen, Wilson's limits mapped, sensitivity and specificity taken as known"
ESTIMATED_TEST = "Rogan-Gladen with the adjusted interval of Lang and Reiczigel"
NO_BETTER_THAN_CHANCE = (
    "sensitivity and specificity add up to 1 or less, so that the test tells nothing and no correction exists"
)
OUTSIDE = "the whole interval lies outside 0 to 100 %, so that sensitivity and specificity cannot be right here"


@dataclass(frozen=True)
class Corrected:
    """estimate, low, high: the true proportion, cut to 0 and 1; None with a `reason` where there is none (an interval
    that lies wholly outside 0 to 1 has no limits).

    apparent: as the test shows it. uncut: the estimate before it was cut. standard_error: of `uncut`, by the delta
    method. cut: the estimate lay outside 0 to 1 and was cut, which says that sensitivity and specificity do not fit
    these observations, or that they are few.
    """

    estimate: float | None
    low: float | None
    high: float | None
    apparent: float | None
    uncut: float | None
    standard_error: float | None
    cut: bool
    n: int
    method: str
    level: float
    reason: str | None = None


def rogan_gladen(
    *,
    events: int,
    n: int,
    sensitivity: float,
    specificity: float,
    n_sensitivity: int | None = None,
    n_specificity: int | None = None,
    level: float = 0.95,
) -> Corrected:
    """The true proportion behind the apparent one, events / n:

        p = (apparent + specificity - 1) / (sensitivity + specificity - 1).

    n_sensitivity, n_specificity: how many truly positive and truly negative the two were measured on; both or
    neither. Without them they count as known, and Wilson's limits of the apparent proportion go through the same
    formula; the standard error is sqrt(apparent (1 - apparent) / n) / J with J = sensitivity + specificity - 1. With
    them the standard error also holds p^2 se (1 - se) / n_se + (1 - p)^2 sp (1 - sp) / n_sp, and the interval is Lang
    and Reiczigel's. Estimate and limits are cut to 0 and 1.

    Rogan WJ, Gladen B, Am J Epidemiol 1978;107:71-76; Lang Z, Reiczigel J, Prev Vet Med 2014;113:13-22 (the formula of
    the adjusted interval from memory). J <= 0, or nobody observed: no estimate, and the reason. Raises ValueError for
    impossible counts, a share outside 0 to 1, one validation size without the other, or level.
    """
    z = normal_quantile(level=level)
    checked_counts(events=events, n=n)
    _check_test(sensitivity, specificity, n_sensitivity, n_specificity)
    estimated = n_sensitivity is not None
    method = ESTIMATED_TEST if estimated else KNOWN_TEST
    apparent = events / n if n else None
    youden = sensitivity + specificity - 1
    if apparent is None or youden <= 0:
        why = "nobody was observed" if apparent is None else NO_BETTER_THAN_CHANCE
        return Corrected(None, None, None, apparent, None, None, False, n, method, level, why)
    uncut = (apparent - (1 - specificity)) / youden
    variance = apparent * (1 - apparent) / n
    if n_sensitivity is not None and n_specificity is not None:
        variance += uncut**2 * sensitivity * (1 - sensitivity) / n_sensitivity
        variance += (1 - uncut) ** 2 * specificity * (1 - specificity) / n_specificity
        low, high = _lang_reiczigel(events, n, sensitivity, specificity, n_sensitivity, n_specificity, z)
    else:
        wilson = wilson_limits(events=events, n=n, level=level)
        low, high = ((float(limit) - (1 - specificity)) / youden for limit in (wilson.low, wilson.high))
    estimate = _cut(uncut)
    outside = high <= 0 or low >= 1
    return Corrected(
        estimate=estimate,
        low=None if outside else _cut(low),
        high=None if outside else _cut(high),
        apparent=apparent,
        uncut=uncut,
        standard_error=math.sqrt(variance) / youden,
        cut=estimate != uncut,
        n=n,
        method=method,
        level=level,
        reason=OUTSIDE if outside else None,
    )


@dataclass(frozen=True)
class CorrectedContrast:
    """Two corrected proportions set against each other, index minus or over comparator; delta limits.

    Of each effect: estimate, low and high, all None where the corrected proportions leave it undefined.
    """

    index: float
    comparator: float
    difference: tuple[float, float, float]
    difference_error: float
    ratio: tuple[float, float, float] | None
    odds_ratio: tuple[float, float, float] | None
    level: float


def corrected_contrast(
    *,
    events_index: int,
    n_index: int,
    events_comparator: int,
    n_comparator: int,
    sensitivity: float,
    specificity: float,
    level: float = 0.95,
) -> CorrectedContrast | None:
    """The contrast of two groups judged by one test whose errors do not depend on the group.

    Each proportion is corrected as in ``rogan_gladen`` with sensitivity and specificity taken as known; the standard
    errors are by the delta method, on the log scale for ratio and odds ratio (Rogan and Gladen 1978; Agresti A,
    Categorical Data Analysis, 3rd ed., Wiley 2013, section 3.1). Proportions are not cut before they are compared;
    one outside 0 to 1 leaves no ratio. None when a group is empty or the test tells nothing. Raises as
    ``rogan_gladen``.
    """
    z = normal_quantile(level=level)
    index, comparator = (
        rogan_gladen(events=x, n=n, sensitivity=sensitivity, specificity=specificity, level=level)
        for x, n in ((events_index, n_index), (events_comparator, n_comparator))
    )
    if index.uncut is None or comparator.uncut is None:
        return None
    assert index.standard_error is not None and comparator.standard_error is not None
    p1, p0 = index.uncut, comparator.uncut
    s1, s0 = index.standard_error, comparator.standard_error
    error = math.hypot(s1, s0)
    made: list[tuple[float, float, float] | None] = [None, None]
    if 0 < p1 < 1 and 0 < p0 < 1:
        on_log = math.hypot(s1 / p1, s0 / p0)
        on_logit = math.hypot(s1 / (p1 * (1 - p1)), s0 / (p0 * (1 - p0)))
        odds = p1 / (1 - p1) / (p0 / (1 - p0))
        made = [
            (value, value * math.exp(-z * each), value * math.exp(z * each))
            for value, each in ((p1 / p0, on_log), (odds, on_logit))
        ]
    difference = p1 - p0
    limits = (difference, max(-1.0, difference - z * error), min(1.0, difference + z * error))
    return CorrectedContrast(p1, p0, limits, error, made[0], made[1], level)


def _lang_reiczigel(
    events: int, n: int, sensitivity: float, specificity: float, n_se: int, n_sp: int, z: float
) -> tuple[float, float]:
    """Each of the three proportions is drawn towards a half, and the middle shifted for the skew of the quotient."""
    size = n + z**2
    apparent = (events + z**2 / 2) / size
    se, sp = (n_se * sensitivity + 1) / (n_se + 2), (n_sp * specificity + 1) / (n_sp + 2)
    youden = se + sp - 1
    if youden <= 0:
        return 0.0, 1.0  # the adjusted test tells nothing, so that nothing is left out
    p = (apparent + sp - 1) / youden
    of_se, of_sp = se * (1 - se) / (n_se + 2), sp * (1 - sp) / (n_sp + 2)
    shift = 2 * z**2 * (p * of_se - (1 - p) * of_sp)
    variance = apparent * (1 - apparent) / size + p**2 * of_se + (1 - p) ** 2 * of_sp
    reach = z * math.sqrt(variance) / youden
    return p + shift - reach, p + shift + reach


def _check_test(sensitivity: float, specificity: float, n_sensitivity: int | None, n_specificity: int | None) -> None:
    for name, value in (("sensitivity", sensitivity), ("specificity", specificity)):
        if not 0 <= value <= 1:
            raise ValueError(f"The {name} is {value}; it is a share from 0 to 1.")
    if (n_sensitivity is None) != (n_specificity is None):
        raise ValueError("Give the sizes behind both sensitivity and specificity, or neither.")
    for size in (n_sensitivity, n_specificity):
        if size is not None and size < 1:
            raise ValueError(f"A sensitivity or specificity was measured on {size}; at least 1 is needed.")


def _cut(value: float) -> float:
    return min(1.0, max(0.0, value))
