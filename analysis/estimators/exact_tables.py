"""Small tables: exact tests that need no large numbers, with the large-sample ones beside them.

Rows are groups, one of whose numbers is `events` and `totals`. Everything is conditional on the margins, as Fisher's
test is.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile

IntArray = npt.NDArray[np.int64]
MOST_TABLES = 2_000_000
SAME = 1e-7
"""Two chances nearer than this, relatively, are taken as one: rounding must not decide whether a table counts."""
ONE_OUTCOME = "all have the outcome, or nobody has: every table with these margins is this one"
EMPTY_GROUP = "a group is empty"


@dataclass(frozen=True, kw_only=True)
class TableTest:
    """One test of a table. statistic: what it is made of, None for an exact one. reason: why there is no p."""

    test: str
    p: float | None = None
    statistic: float | None = None
    df: int | None = None
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class TableOddsRatio:
    """An odds ratio, index over comparator; high or estimate may be infinite where a cell is 0. reason: why none."""

    method: str
    estimate: float | None
    low: float | None
    high: float | None
    level: float
    n: int
    events: int
    reason: str | None = None


@dataclass(frozen=True, kw_only=True)
class TwoByTwo:
    """Fisher's test and its mid-p form, Pearson's and Yates's; the odds ratio crude, conditional exact, mid-p."""

    fisher: TableTest
    mid_p: TableTest
    pearson: TableTest
    yates: TableTest
    crude: TableOddsRatio
    conditional: TableOddsRatio
    conditional_mid_p: TableOddsRatio


@dataclass(frozen=True, kw_only=True)
class Groups:
    """A table of several groups: Freeman and Halton's exact test, Pearson's, and the trend over the scores."""

    exact: TableTest
    pearson: TableTest
    trend: TableTest
    trend_exact: TableTest
    scores: tuple[float, ...]


def two_by_two(*, events: tuple[int, int], totals: tuple[int, int], level: float = 0.95) -> TwoByTwo:
    """Two groups, index first.

    Fisher's p adds up all tables no likelier than this one (Fisher RA, J R Stat Soc 1935;98:39-54); its mid-p form
    counts tables as likely as this one by half (Lancaster HO, J Am Stat Assoc 1961;56:223-234). The conditional odds
    ratio maximises the noncentral hypergeometric likelihood, its limits invert one-sided exact tests (Cornfield J,
    Proc 3rd Berkeley Symp 1956;4:135-148; by scipy), and the mid-p ones leave out half of this table's own chance.
    Crude: cross product, logit limits (Woolf B, Ann Hum Genet 1955;19:251-253), none with an empty cell. Raises
    ValueError for impossible counts or level.
    """
    a, n = _checked(events, totals)
    normal_quantile(level=level)
    tests = _two_tests(a, n)
    return TwoByTwo(
        fisher=tests[0],
        mid_p=tests[1],
        pearson=_chi_squared(a, n, yates=False),
        yates=_chi_squared(a, n, yates=True),
        crude=_crude(a, n, level),
        conditional=_conditional(a, n, level, mid_p=False),
        conditional_mid_p=_conditional(a, n, level, mid_p=True),
    )


def several_groups(*, events: Sequence[int], totals: Sequence[int], scores: Sequence[float] | None = None) -> Groups:
    """Groups in order; scores: of the groups for the trend, 0, 1, 2 ... unless given.

    Exact test: Freeman GH, Halton JH, Biometrika 1951;38:141-149. Trend: Cochran WG, Biometrics 1954;10:417-451,
    Armitage P, Biometrics 1955;11:375-386, variance with n as divisor, no continuity correction; its exact p is the
    chance, over all tables with these margins, of a weighted sum as far from its mean. The exact tests need at most
    two million tables, else they say so. Raises ValueError for impossible counts, fewer than two groups, or scores
    that are not one a group or all alike.
    """
    a, n = _checked(events, totals)
    given = np.arange(len(a), dtype=np.float64) if scores is None else np.asarray(scores, dtype=np.float64)
    if given.shape != a.shape or not np.isfinite(given).all() or given.min() == given.max():
        raise ValueError("scores must be one number a group, not all alike.")
    tables, reason = _tables(n, int(a.sum()))
    exact, trend_exact = "Freeman-Halton exact", "Cochran-Armitage trend, exact"
    return Groups(
        exact=TableTest(test=exact, reason=reason) if tables is None else TableTest(test=exact, p=_exact(a, *tables)),
        pearson=_chi_squared(a, n, yates=False),
        trend=_trend(a, n, given),
        trend_exact=TableTest(test=trend_exact, reason=reason)
        if tables is None
        else TableTest(test=trend_exact, p=_exact_trend(a, n, given, *tables)),
        scores=tuple(float(score) for score in given),
    )


def _checked(events: Sequence[int], totals: Sequence[int]) -> tuple[IntArray, IntArray]:
    made = []
    for name, values in (("events", events), ("totals", totals)):
        numbers = np.asarray(values, dtype=np.float64)
        if numbers.ndim != 1 or not np.isfinite(numbers).all() or (numbers < 0).any() or (numbers % 1).any():
            raise ValueError(f"{name} must be whole numbers of 0 or more, one a group.")
        made.append(numbers.astype(np.int64))
    a, n = made
    if len(a) != len(n) or len(a) < 2:
        raise ValueError("events and totals must be of equal length, one entry a group, at least two groups.")
    if (a > n).any():
        raise ValueError("A group has more events than members.")
    return a, n


def _why_none(a: IntArray, n: IntArray) -> str | None:
    if not n.all():
        return EMPTY_GROUP
    return None if 0 < a.sum() < n.sum() else ONE_OUTCOME


def _tables(n: IntArray, events: int) -> tuple[tuple[IntArray, FloatArray] | None, str | None]:
    """Every table with these margins: events of each group, shape (tables, groups), and its chance; or why not."""
    from scipy.special import gammaln

    if not n.all():
        return None, EMPTY_GROUP
    found = np.zeros((1, 0), dtype=np.int64)
    for at, size in enumerate(n):
        left = events - found.sum(axis=1)
        after = int(n[at + 1 :].sum())
        low, high = np.maximum(0, left - after), np.minimum(size, left)
        many = high - low + 1
        if int(many.sum()) > MOST_TABLES:
            return None, f"more than {MOST_TABLES:,} tables have these margins; the large-sample test stands for it"
        own = np.arange(int(many.sum())) - np.repeat(np.cumsum(many) - many, many) + np.repeat(low, many)
        found = np.column_stack([np.repeat(found, many, axis=0), own])

    def choose(of: Any, taken: Any) -> FloatArray:
        return np.asarray(gammaln(of + 1) - gammaln(taken + 1) - gammaln(of - taken + 1), dtype=np.float64)

    log = choose(n[None, :], found).sum(axis=1) - choose(n.sum(), events)
    chance = np.exp(log)
    return (found, np.asarray(chance / chance.sum(), dtype=np.float64)), None


def _exact(a: IntArray, tables: IntArray, chance: FloatArray) -> float:
    own = float(chance[(tables == a).all(axis=1)][0])
    return min(math.fsum(chance[chance <= own * (1 + SAME)]), 1.0)


def _exact_trend(a: IntArray, n: IntArray, scores: FloatArray, tables: IntArray, chance: FloatArray) -> float:
    mean = float(scores @ n) * a.sum() / n.sum()
    off, own = np.abs(tables @ scores - mean), abs(float(scores @ a) - mean)
    return min(math.fsum(chance[off >= own - SAME * max(own, 1.0)]), 1.0)


def _trend(a: IntArray, n: IntArray, scores: FloatArray) -> TableTest:
    from scipy import stats

    test, reason = "Cochran-Armitage trend", _why_none(a, n)
    if reason is not None:
        return TableTest(test=test, reason=reason)
    whole = int(n.sum())
    rate = a.sum() / whole
    centred = scores - float(scores @ n) / whole
    z = float(centred @ (a - n * rate)) / math.sqrt(rate * (1 - rate) * float(n @ centred**2))
    return TableTest(test=test, statistic=z, p=float(2 * stats.norm.sf(abs(z))))


def _chi_squared(a: IntArray, n: IntArray, *, yates: bool) -> TableTest:
    from scipy import stats

    test, reason = "Yates's corrected chi-squared" if yates else "Pearson's chi-squared", _why_none(a, n)
    if reason is not None:
        return TableTest(test=test, reason=reason)
    found = stats.chi2_contingency(np.column_stack([a, n - a]), correction=yates)
    return TableTest(test=test, statistic=float(found.statistic), df=int(found.dof), p=float(found.pvalue))


def _two_tests(a: IntArray, n: IntArray) -> tuple[TableTest, TableTest]:
    from scipy import stats

    names = "Fisher's exact, two-sided", "Fisher's exact, two-sided mid-p"
    reason = _why_none(a, n)
    if reason is not None:
        return TableTest(test=names[0], reason=reason), TableTest(test=names[1], reason=reason)
    law = stats.hypergeom(int(n.sum()), int(a.sum()), int(n[0]))
    low, high = law.support()
    chance = law.pmf(np.arange(low, high + 1))
    own = float(law.pmf(int(a[0])))
    as_likely = np.abs(chance - own) <= own * SAME
    whole = math.fsum(chance[(chance < own) | as_likely])
    half = whole - math.fsum(chance[as_likely]) / 2
    return TableTest(test=names[0], p=min(whole, 1.0)), TableTest(test=names[1], p=min(half, 1.0))


def _crude(a: IntArray, n: IntArray, level: float) -> TableOddsRatio:
    cells = np.array([a[0], n[0] - a[0], a[1], n[1] - a[1]], dtype=np.float64)
    made = partial(TableOddsRatio, method="crude, logit", level=level, n=int(n.sum()), events=int(a.sum()))
    reason = _why_none(a, n)
    if reason is not None:
        return made(estimate=None, low=None, high=None, reason=reason)
    below = cells[1] * cells[2]
    estimate = float(cells[0] * cells[3] / below) if below else math.inf
    if not cells.all():
        return made(estimate=estimate, low=None, high=None, reason="a cell is 0: no logit limits")
    half = normal_quantile(level=level) * math.sqrt(float((1 / cells).sum()))
    return made(estimate=estimate, low=estimate * math.exp(-half), high=estimate * math.exp(half))


def _conditional(a: IntArray, n: IntArray, level: float, *, mid_p: bool) -> TableOddsRatio:
    from scipy.stats import contingency

    method = "conditional maximum likelihood, " + ("mid-p limits" if mid_p else "exact limits")
    made = partial(TableOddsRatio, method=method, level=level, n=int(n.sum()), events=int(a.sum()))
    reason = _why_none(a, n)
    if reason is not None:
        return made(estimate=None, low=None, high=None, reason=reason)
    found = contingency.odds_ratio(np.column_stack([a, n - a]), kind="conditional")
    if mid_p:
        low, high = _mid_p_limits(a, n, level)
    else:
        limits = found.confidence_interval(level)
        low, high = float(limits.low), float(limits.high)
    return made(estimate=float(found.statistic), low=low, high=high)


def _mid_p_limits(a: IntArray, n: IntArray, level: float) -> tuple[float, float]:
    """Odds ratios at which the chance of more events in the index group, plus half of as many, is a tail."""
    events, own = int(a.sum()), int(a[0])
    low, high = max(0, events - int(n[1])), min(events, int(n[0]))
    at = np.arange(low, high + 1)
    from scipy.special import gammaln

    base = -(gammaln(at + 1) + gammaln(n[0] - at + 1) + gammaln(events - at + 1) + gammaln(n[1] - events + at + 1))
    tail = (1 - level) / 2

    def above(log_ratio: float) -> float:
        log = base + at * log_ratio
        chance = np.exp(log - log.max())
        return float((chance[at > own].sum() + 0.5 * chance[at == own].sum()) / chance.sum())

    # The end beyond which nothing lies: no limit on that side.
    lower = 0.0 if own == low else math.exp(_crossing(lambda b: above(b) - tail))
    upper = math.inf if own == high else math.exp(_crossing(lambda b: above(b) - (1 - tail)))
    return lower, upper


def _crossing(rising: Callable[[float], float]) -> float:
    from scipy.optimize import brentq

    end = 1.0
    while not rising(-end) < 0 < rising(end):
        end *= 2
    return float(brentq(rising, -end, end, xtol=1e-12, rtol=1e-12))
