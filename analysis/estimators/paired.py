"""Two yes-or-no answers about the same things: does one say yes more often than the other?"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.estimators.proportions import normal_quantile


@dataclass(frozen=True)
class Paired:
    """difference: share of yes of the first minus that of the second; low and high: Wald's limits, cut to -1 and 1.

    exact_p, mid_p: two-sided, of the pairs that differ; chi_square and p: McNemar's without correction.
    """

    difference: float | None
    low: float | None
    high: float | None
    standard_error: float | None
    chi_square: float | None
    p: float | None
    exact_p: float | None
    mid_p: float | None
    n: int
    level: float
    reason: str | None = None


def mcnemar(*, both: int, first_only: int, second_only: int, neither: int, level: float = 0.95) -> Paired:
    """Compare two answers given to the same n things.

    difference = (b - c) / n with standard error sqrt(b + c - (b - c)^2 / n) / n for b = first_only, c = second_only.
    McNemar Q, Psychometrika 1947;12:153-157, exact p and chi-square as statsmodels has them; mid-p is the exact p
    less the probability of the observed split: Fagerland MW, Lydersen S, Laake P, BMC Med Res Methodol 2013;13:91. No
    pair: nothing, with the reason. No pair that differs: difference 0 without limits or p. Raises ValueError for
    counts below 0, or level.
    """
    z = normal_quantile(level=level)
    if min(both, first_only, second_only, neither) < 0:
        raise ValueError("A count of pairs cannot be below 0.")
    n = both + first_only + second_only + neither
    differ = first_only + second_only
    if not n or not differ:
        why = "no pair differs" if n else "there is no pair"
        return Paired(0.0 if n else None, None, None, None, None, None, None, None, n, level, why)
    from scipy.stats import binom
    from statsmodels.stats.contingency_tables import mcnemar as tested

    table = [[both, first_only], [second_only, neither]]
    plain, exact = tested(table, exact=False, correction=False), tested(table, exact=True)
    mid = float(exact.pvalue) - float(binom.pmf(first_only, differ, 0.5))
    if first_only == second_only:  # the exact p is cut at 1, and its mirror image counts once
        mid = 1.0 - float(binom.pmf(first_only, differ, 0.5)) / 2
    difference = (first_only - second_only) / n
    error = math.sqrt(differ - (first_only - second_only) ** 2 / n) / n
    return Paired(
        difference=difference,
        low=max(-1.0, difference - z * error),
        high=min(1.0, difference + z * error),
        standard_error=error,
        chi_square=float(plain.statistic),
        p=float(plain.pvalue),
        exact_p=float(exact.pvalue),
        mid_p=mid,
        n=n,
        level=level,
    )
