"""How alike those at different values of an exposure are, before and after weighting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analysis.estimators.confounding.balance import standardised
from analysis.estimators.confounding.generalised_propensity import GeneralisedPropensity
from analysis.estimators.regression.fitted import FloatArray


@dataclass(frozen=True, kw_only=True)
class BalanceAcross:
    """One column. before, after: the largest absolute standardised difference over all pairs of values, with the pair;
    None where it does not vary within either of two values whose means differ. means, weighted_means: at each value.
    """

    label: str
    means: tuple[float, ...]
    weighted_means: tuple[float, ...]
    before: float | None
    before_between: tuple[float, float] | None
    after: float | None
    after_between: tuple[float, float] | None


def balance_across(x: FloatArray, labels: Sequence[str], score: GeneralisedPropensity) -> list[BalanceAcross]:
    """Of each column the largest standardised difference between two values.

    x: shape (rows, columns), without an intercept. Of a pair: the difference of (weighted) means over sqrt((s_a^2 +
    s_b^2) / 2), standard deviations unweighted, as for two groups; the largest over pairs (McCaffrey DF et al, Stat
    Med 2013;32:3388-3414 for pairwise maxima, from memory).
    """
    found = []
    for column, label in zip(x.T, labels, strict=True):
        at = [score.code == place for place in range(len(score.values))]
        means = [float(column[of].mean()) for of in at]
        weighted = [float(np.average(column[of], weights=score.weights[of])) for of in at]
        variances = [float(column[of].var(ddof=1)) for of in at]
        before, before_of = _largest(means, variances, score.values)
        after, after_of = _largest(weighted, variances, score.values)
        found.append(
            BalanceAcross(
                label=label,
                means=tuple(means),
                weighted_means=tuple(weighted),
                before=before,
                before_between=before_of,
                after=after,
                after_between=after_of,
            )
        )
    return found


def _largest(
    means: list[float], variances: list[float], values: tuple[float, ...]
) -> tuple[float | None, tuple[float, float] | None]:
    best, between = -1.0, None
    for one, other in combinations(range(len(means)), 2):
        scale = math.sqrt((variances[one] + variances[other]) / 2)
        value = standardised(means[one] - means[other], scale)
        if value is None:
            return None, None
        if abs(value) > best:
            best, between = abs(value), (values[one], values[other])
    return best, between
