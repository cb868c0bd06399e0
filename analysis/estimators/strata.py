"""Two groups compared over strata: Mantel-Haenszel, direct standardisation, homogeneity of odds ratios.

Every function takes four lists of equal length, one entry a stratum. A stratum without anyone in one of the
groups says nothing of a contrast: it is left out, and its position is listed in ``strata_left_out``. As with
two groups, a zero is never mended by adding a half.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, checked_counts, normal_quantile
from analysis.estimators.two_groups import Effect, difference_effect, log_scale_effect


@dataclass(frozen=True)
class PooledEffects:
    """Three contrasts with Mantel and Haenszel's weights; strata by their positions in the lists given."""

    difference: Effect
    ratio: Effect
    odds_ratio: Effect
    strata_used: tuple[int, ...]
    strata_left_out: tuple[int, ...]


@dataclass(frozen=True)
class StandardisedEffects:
    """Both rates moved to one standard (the share of each stratum used, sums to 1), and their contrasts."""

    rate_index: float | None
    rate_comparator: float | None
    se_index: float | None
    se_comparator: float | None
    difference: Effect
    ratio: Effect
    odds_ratio: Effect
    standard: tuple[float, ...]
    strata_used: tuple[int, ...]
    strata_left_out: tuple[int, ...]


@dataclass(frozen=True)
class Homogeneity:
    """A chi-squared test that the strata share one odds ratio; None, with the reason, if none can be made."""

    test: str
    statistic: float | None
    df: int | None
    p: float | None
    strata_used: tuple[int, ...]
    strata_left_out: tuple[int, ...]
    reason: str | None = None


class _Tables:
    """The strata that hold both groups. a, b: events of index and comparator; c, d: their non-events."""

    def __init__(self, *groups: npt.ArrayLike, with_both_outcomes: bool = False) -> None:
        shapes = {np.shape(counts) for counts in groups}
        if len(shapes) != 1 or len(next(iter(shapes))) != 1:
            raise ValueError(f"The four counts must be lists of one length, not of shapes {shapes}.")
        a, n1 = checked_counts(events=groups[0], n=groups[1], where=" of the index group")
        b, n0 = checked_counts(events=groups[2], n=groups[3], where=" of the comparator group")
        keep = (n1 > 0) & (n0 > 0)
        if with_both_outcomes:
            keep &= (a + b > 0) & (a + b < n1 + n0)
        self.given = len(keep)
        self.used = tuple(np.flatnonzero(keep).tolist())
        self.left_out = tuple(np.flatnonzero(~keep).tolist())
        self.a, self.b, self.n1, self.n0 = a[keep], b[keep], n1[keep], n0[keep]
        self.c, self.d, self.n = self.n1 - self.a, self.n0 - self.b, self.n1 + self.n0


def _no_stratum(method: str, level: float) -> tuple[Effect, Effect, Effect]:
    reason = "no stratum holds both groups"
    none = partial(Effect, estimate=None, low=None, high=None, method=method, level=level, reason=reason)
    return none(measure="difference"), none(measure="ratio"), none(measure="odds_ratio")


def mantel_haenszel(
    *,
    events_index: npt.ArrayLike,
    n_index: npt.ArrayLike,
    events_comparator: npt.ArrayLike,
    n_comparator: npt.ArrayLike,
    level: float = 0.95,
) -> PooledEffects:
    """Mantel-Haenszel difference, ratio and odds ratio, index minus or over comparator.

    Per stratum a of n1 index and b of n0 comparator had the event, N = n1 + n0, c and d are the non-events.

    difference = sum((a n0 - b n1)/N) / sum(n1 n0/N), limits cut at -1 and 1; variance
    (difference sum P + sum Q) / sum(n1 n0/N)^2 with P = (n1^2 b - n0^2 a + n1 n0 (n0 - n1)/2)/N^2 and
    Q = (a d + b c)/(2N) (Sato T, Biometrics 1989;45:1323-1324).
    ratio = sum(a n0/N) / sum(b n1/N); log variance sum((n1 n0 (a + b) - a b N)/N^2) over the product of those
    two sums (Greenland S, Robins JM, Biometrics 1985;41:55-68).
    odds ratio = sum(a d/N) / sum(b c/N) (Mantel N, Haenszel W, J Natl Cancer Inst 1959;22:719-748); log
    variance of Robins J, Breslow N, Greenland S, Biometrics 1986;42:311-323.

    Raises ValueError for lists of unequal length, impossible counts, or level.
    """
    normal_quantile(level=level)
    t = _Tables(events_index, n_index, events_comparator, n_comparator)
    if not t.used:
        return PooledEffects(*_no_stratum("Mantel-Haenszel", level), t.used, t.left_out)
    log = partial(log_scale_effect, level=level)
    over, under = float((t.a * t.n0 / t.n).sum()), float((t.b * t.n1 / t.n).sum())
    spread = float(((t.a * t.d * t.n1 + t.b * t.c * t.n0) / t.n**2).sum())  # the same, nothing subtracted
    ratio = log(
        measure="ratio",
        over=over,
        under=under,
        log_variance=lambda: spread / (over * under),
        method="Mantel-Haenszel, Greenland-Robins variance",
    )
    odds = log(
        measure="odds_ratio",
        over=float((t.a * t.d / t.n).sum()),
        under=float((t.b * t.c / t.n).sum()),
        log_variance=lambda: _robins_breslow_greenland(t),
        method="Mantel-Haenszel, Robins-Breslow-Greenland variance",
    )
    return PooledEffects(_mh_difference(t, level), ratio, odds, t.used, t.left_out)


def _mh_difference(t: _Tables, level: float) -> Effect:
    weight = float((t.n1 * t.n0 / t.n).sum())
    estimate = float(((t.a * t.n0 - t.b * t.n1) / t.n).sum()) / weight
    p = float(((t.n1**2 * t.b - t.n0**2 * t.a + t.n1 * t.n0 * (t.n0 - t.n1) / 2) / t.n**2).sum())
    q = float(((t.a * t.d + t.b * t.c) / (2 * t.n)).sum())
    spread = estimate * p + q
    cancels = spread <= 1e-12 * (abs(estimate * p) + q)  # as when no stratum holds any variation
    variance = 0.0 if cancels else spread / weight**2
    method = "Mantel-Haenszel, Sato variance"
    return difference_effect(estimate=estimate, variance=variance, method=method, level=level)


def _robins_breslow_greenland(t: _Tables) -> float:
    from statsmodels.stats.contingency_tables import StratifiedTable  # a second of import: only for who asks

    return float(StratifiedTable(np.array([[t.a, t.c], [t.b, t.d]])).logodds_pooled_se) ** 2


def standardised(
    *,
    events_index: npt.ArrayLike,
    n_index: npt.ArrayLike,
    events_comparator: npt.ArrayLike,
    n_comparator: npt.ArrayLike,
    standard: npt.ArrayLike | None = None,
    level: float = 0.95,
) -> StandardisedEffects:
    """Both rates standardised directly to one mix of strata, and their difference, ratio and odds ratio.

    standard: a weight a stratum (any scale); by default the n of both groups together. Shares w are taken
    over the strata used. rate = sum w_k p_k, variance = sum w_k^2 p_k (1 - p_k)/n_k (independent binomials, w
    taken as fixed); delta method for the difference (limits cut at -1 and 1), the log ratio and the log of
    the marginal odds ratio. Rothman KJ, Greenland S, Modern Epidemiology, 2nd ed., Lippincott 1998.

    Raises ValueError for lists of unequal length, impossible counts, a negative weight, weights that are all
    0 over the strata used, or level.
    """
    normal_quantile(level=level)
    method = "directly standardised, delta method"
    t = _Tables(events_index, n_index, events_comparator, n_comparator)
    if not t.used:
        effects = _no_stratum(method, level)
        return StandardisedEffects(None, None, None, None, *effects, (), t.used, t.left_out)
    w = _shares(t, standard)
    r1, r0 = min(1.0, float(w @ (t.a / t.n1))), min(1.0, float(w @ (t.b / t.n0)))
    s1, s0 = float(w @ (t.c / t.n1)), float(w @ (t.d / t.n0))  # exactly 0 where everyone had the event
    v1, v0 = float(w**2 @ (t.a * t.c / t.n1**3)), float(w**2 @ (t.b * t.d / t.n0**3))
    log = partial(log_scale_effect, method=method, level=level)
    ratio = log(measure="ratio", over=r1, under=r0, log_variance=lambda: v1 / r1**2 + v0 / r0**2)
    odds = log(
        measure="odds_ratio",
        over=r1 * s0,
        under=r0 * s1,
        log_variance=lambda: v1 / (r1 * s1) ** 2 + v0 / (r0 * s0) ** 2,
    )
    difference = difference_effect(estimate=r1 - r0, variance=v1 + v0, method=method, level=level)
    rates, shares = (r1, r0, v1**0.5, v0**0.5), tuple(w.tolist())
    return StandardisedEffects(*rates, difference, ratio, odds, shares, t.used, t.left_out)


def _shares(t: _Tables, standard: npt.ArrayLike | None) -> FloatArray:
    if standard is None:
        return np.asarray(t.n / t.n.sum(), dtype=np.float64)
    weights = np.asarray(standard, dtype=np.float64)
    if weights.shape != (t.given,) or not (np.isfinite(weights) & (weights >= 0)).all():
        raise ValueError(f"standard must be one weight of 0 or more for each of the {t.given} strata.")
    kept = weights[list(t.used)]
    if kept.sum() == 0:
        raise ValueError("standard gives no weight to any stratum that holds both groups.")
    return np.asarray(kept / kept.sum(), dtype=np.float64)


def homogeneity_of_odds_ratios(
    *,
    events_index: npt.ArrayLike,
    n_index: npt.ArrayLike,
    events_comparator: npt.ArrayLike,
    n_comparator: npt.ArrayLike,
    tarone: bool = True,
) -> Homogeneity:
    """Breslow and Day's test that one odds ratio fits all strata, by default with Tarone's correction.

    With A_k the events of the index group expected in stratum k under the Mantel-Haenszel odds ratio and its
    margins, V_k = 1/(1/A + 1/(m - A) + 1/(n1 - A) + 1/(n0 - m + A)) and m the events of the stratum,

        statistic = sum (a_k - A_k)^2 / V_k   [Tarone: - (sum a_k - sum A_k)^2 / sum V_k],   df = strata - 1.

    Breslow NE, Day NE, Statistical Methods in Cancer Research vol. 1, IARC 1980, section 4.4; Tarone RE,
    Biometrika 1985;72:91-95. Strata where nobody or everybody had the event have no odds ratio and are left
    out too. Raises ValueError for lists of unequal length or impossible counts.
    """
    test = "Breslow-Day with Tarone's correction" if tarone else "Breslow-Day"
    t = _Tables(events_index, n_index, events_comparator, n_comparator, with_both_outcomes=True)
    over, under = float((t.a * t.d / t.n).sum()), float((t.b * t.c / t.n).sum())
    from scipy.special import chdtrc  # slow to load: only for who asks

    if len(t.used) < 2 or over == 0 or under == 0:
        reason = "the pooled odds ratio is 0 or infinite"
        if len(t.used) < 2:
            reason = "fewer than two strata have an odds ratio"
        return Homogeneity(test, None, None, None, t.used, t.left_out, reason)
    m = t.a + t.b
    expected = _expected(over / under, m, t.n1, t.n0)
    variance = 1 / (1 / expected + 1 / (m - expected) + 1 / (t.n1 - expected) + 1 / (t.n0 - m + expected))
    statistic = float(((t.a - expected) ** 2 / variance).sum())
    if tarone:
        statistic = max(0.0, statistic - float((t.a - expected).sum() ** 2 / variance.sum()))
    df = len(t.used) - 1
    return Homogeneity(test, statistic, df, float(chdtrc(df, statistic)), t.used, t.left_out)


def _expected(odds: float, m: FloatArray, n1: FloatArray, n0: FloatArray) -> FloatArray:
    """The A with A (n0 - m + A) = odds (m - A)(n1 - A) inside the margins, sound at odds = 1 too."""
    square, linear = 1.0 - odds, n0 - m + odds * (n1 + m)
    root = np.sqrt(linear**2 + 4 * square * odds * n1 * m)
    forward = linear >= 0
    expected = np.empty_like(m)
    expected[forward] = (2 * odds * n1 * m)[forward] / (linear + root)[forward]
    expected[~forward] = (root - linear)[~forward] / (2 * square)  # linear < 0 only when odds < 1
    return expected
