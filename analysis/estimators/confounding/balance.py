"""How alike two groups are before and after weighting: standardised mean differences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import FloatArray

NOTABLE = 0.1
"""A standardised difference spoken of (Austin PC, Stat Med 2009;28:3083-3107, from memory)."""


@dataclass(frozen=True, kw_only=True)
class Balance:
    """One column. means: index group, the other; unweighted and weighted. before, after: standardised differences;
    None where the column does not vary in either group and the means differ (reason says so)."""

    label: str
    means: tuple[float, float]
    weighted_means: tuple[float, float]
    before: float | None
    after: float | None
    reason: str | None = None


def balance(x: FloatArray, labels: Sequence[str], index: npt.ArrayLike, weights: npt.ArrayLike) -> list[Balance]:
    """Standardised mean differences of every column.

    x: shape (rows, columns), without an intercept. index: 0/1 or bool. weights: shape (rows,). The difference of
    (weighted) means over sqrt((s1^2 + s0^2) / 2), with the standard deviations of the groups as they were, unweighted,
    before and after, so that a change is one of the means (Austin PC, Stuart EA, Stat Med 2015;34:3661-3679, from
    memory).
    """
    one, w = np.asarray(index).astype(bool), np.asarray(weights, dtype=np.float64)
    found = []
    for column, label in zip(x.T, labels, strict=True):
        first, second = column[one], column[~one]
        scale = math.sqrt((_variance(first) + _variance(second)) / 2)
        means = float(first.mean()), float(second.mean())
        weighted = float(np.average(first, weights=w[one])), float(np.average(second, weights=w[~one]))
        before, after = (standardised(pair[0] - pair[1], scale) for pair in (means, weighted))
        reason = "it does not vary within the groups" if before is None else None
        found.append(
            Balance(label=label, means=means, weighted_means=weighted, before=before, after=after, reason=reason)
        )
    return found


def largest(found: Sequence[Balance], *, after: bool = True) -> float | None:
    """The largest absolute standardised difference; None when there is none."""
    of = [abs(value) for each in found if (value := each.after if after else each.before) is not None]
    return max(of, default=None)


def standardised(difference: float, scale: float) -> float | None:
    """A difference over its scale; 0 without either, None without a scale alone."""
    if scale > 0:
        return difference / scale
    return 0.0 if difference == 0 else None


def _variance(values: FloatArray) -> float:
    return float(values.var(ddof=1)) if len(values) > 1 else 0.0
