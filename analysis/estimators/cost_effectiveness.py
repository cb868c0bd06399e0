"""Two groups compared by cost and effect: differences, incremental ratio, net benefit, by resampling clusters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray, normal_quantile
from analysis.estimators.ratio_of_sums import BOOTSTRAP, TOO_FEW, Limits, cluster_sums, percentile_limits, resampled

Standing = Literal[
    "dominates",
    "is dominated",
    "costs more, does more",
    "costs less, does less",
    "costs more, effects not told apart",
    "costs less, effects not told apart",
    "costs alike, effects not told apart",
    "alike",
]
DOMINANCE = "one group dominates: what costs less does no less, so there is no price to pay"
NOT_TOLD_APART: tuple[Standing, ...] = (
    "costs alike, effects not told apart",
    "costs more, effects not told apart",
    "costs less, effects not told apart",
)
"""By the sign of the difference in cost: 0, 1, and -1 as the last."""
NO_PRICE = "the difference in effect is not clear of 0, and what costs less seems to do no less, so there is no price"
UNCLEAR = "the difference in effect is not clear of 0"
QUADRANTS = ("more_more", "more_less", "less_more", "less_less")
"""Cost, then effect, of index against comparator: `less_more` costs less and does more, so that it dominates."""


@dataclass(frozen=True)
class Difference:
    """Index minus comparator; None where a group is empty."""

    estimate: float | None
    limits: Limits

    @property
    def clear(self) -> bool:
        """Whether all of the interval lies on one side of 0; without an interval it is not."""
        low, high = self.limits.low, self.limits.high
        return low is not None and high is not None and not low <= 0 <= high


@dataclass(frozen=True)
class NetBenefit:
    """willing x difference in effect - difference in cost; above: share of resamples in which it is above 0."""

    willing: float
    estimate: float | None
    limits: Limits
    above: float | None


@dataclass(frozen=True, eq=False)
class CostEffectiveness:
    """The comparison.

    ratio: cost of one more effect, None where it would be negative or effects do not differ. standing: where the
    estimate lies; a group dominates only where the interval of the difference in effect is clear of 0.
    quadrants: share of resamples in each; they add up to 1 where there are any. cloud: the differences of each
    resample, shape (resamples, 2), effect then cost. left_out: resamples in which a group had nobody.
    """

    cost: Difference
    effect: Difference
    ratio: float | None
    ratio_limits: Limits
    ratio_reason: str | None
    standing: Standing | None
    quadrants: dict[str, float] | None
    net_benefits: tuple[NetBenefit, ...]
    cloud: FloatArray
    left_out: int
    n_index: int
    n_comparator: int
    clusters: int
    level: float
    replicates: int
    seed: int


def cost_effectiveness(
    *,
    cost: npt.ArrayLike,
    effect: npt.ArrayLike,
    index: npt.ArrayLike,
    cluster: npt.ArrayLike,
    willing: Sequence[float] = (),
    seed: int = 1,
    replicates: int = 2000,
    level: float = 0.95,
) -> CostEffectiveness:
    """Compare the means of cost and effect of two groups, index minus comparator.

    Arrays of shape (rows,), none missing. effect: 0/1, or any number of which more is better. index: True in the
    index group. cluster: drawn with all its rows, which may lie in both groups. willing: what one more effect is worth,
    each at least 0.

    Limits are percentiles of the resamples (position (m + 1) p). The incremental ratio has limits only where the
    difference in effect is clear of 0, that is where all of its interval lies on one side of it: elsewhere resamples
    of opposite meaning share one value, and a ratio cannot be ordered. Where what costs less has the larger effect
    there is no ratio, for a negative one is the price of nothing; that is dominance only where the difference in effect
    is clear of 0, else the effects are not told apart. A negative limit says that resamples reach into dominance. Net
    benefit has no such trouble. Black WC, Med Decis Making 1990;10:212-214 (the plane); Briggs AH, Wonderling DE,
    Mooney CZ, Health Econ 1997;6:327-340 (bootstrap of the ratio); Stinnett AA, Mullahy J, Med Decis Making
    1998;18:S68-S80 (net benefit); all from memory.

    Raises ValueError for arrays of unequal length, a missing value, an amount below 0, replicates or level.
    """
    normal_quantile(level=level)
    if replicates < 1:
        raise ValueError(f"replicates is {replicates}; at least one resample is needed, 2000 are usual.")
    if any(not np.isfinite(each) or each < 0 for each in willing):
        raise ValueError("willing holds what one more effect is worth: numbers that are 0 or more.")
    rows = _rows(cost, effect, index)
    sums, _ = cluster_sums(rows, cluster)
    whole = sums.sum(axis=0) if len(sums) else np.zeros(6)
    n1, n0 = int(whole[2]), int(whole[5])
    cloud, left_out = np.zeros((0, 2)), 0
    if n1 and n0 and len(sums) >= 2:
        drawn = _differences(resampled(sums, replicates, seed))
        kept = np.isfinite(drawn).all(axis=1)
        cloud, left_out = drawn[kept], int((~kept).sum())
    effects, costs = (_difference(whole, cloud, at, level) for at in (0, 1))
    standing = _standing(effects, costs.estimate)
    ratio, limits, why = _ratio(effects, costs, standing, cloud, level)
    return CostEffectiveness(
        cost=costs,
        effect=effects,
        ratio=ratio,
        ratio_limits=limits,
        ratio_reason=why,
        standing=standing,
        quadrants=_quadrants(cloud),
        net_benefits=tuple(_net(effects, costs, cloud, each, level) for each in willing),
        cloud=cloud,
        left_out=left_out,
        n_index=n1,
        n_comparator=n0,
        clusters=len(sums),
        level=level,
        replicates=replicates,
        seed=seed,
    )


def _rows(cost: npt.ArrayLike, effect: npt.ArrayLike, index: npt.ArrayLike) -> FloatArray:
    """Cost, effect and number of index and comparator, shape (rows, 6)."""
    c, e = np.asarray(cost, dtype=np.float64), np.asarray(effect, dtype=np.float64)
    first = np.asarray(index, dtype=np.float64)
    if c.ndim != 1 or c.shape != e.shape or c.shape != first.shape:
        raise ValueError("cost, effect and index must have one entry a row each; their lengths differ.")
    if not (np.isfinite(c).all() and np.isfinite(e).all() and np.isin(first, (0.0, 1.0)).all()):
        raise ValueError("cost and effect must be numbers and index 0 or 1, none missing; leave such rows out before.")
    other = 1.0 - first
    return np.column_stack([c * first, e * first, first, c * other, e * other, other])


def _differences(sums: FloatArray) -> FloatArray:
    """Difference in effect and in cost of each row of sums; NaN where a group has nobody."""
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = sums[:, :2] / sums[:, 2:3], sums[:, 3:5] / sums[:, 5:6]
        return np.asarray((first - second)[:, ::-1], dtype=np.float64)


def _difference(whole: FloatArray, cloud: FloatArray, at: int, level: float) -> Difference:
    if not (whole[2] and whole[5]):
        return Difference(None, Limits(None, None, BOOTSTRAP, "nobody is in one of the groups"))
    estimate = float(_differences(whole[None, :])[0, at])
    limits = percentile_limits(cloud[:, at], level=level) if len(cloud) else Limits(None, None, BOOTSTRAP, TOO_FEW)
    return Difference(estimate, limits)


def _ratio(
    effects: Difference, costs: Difference, standing: Standing | None, cloud: FloatArray, level: float
) -> tuple[float | None, Limits, str | None]:
    if effects.estimate is None or costs.estimate is None:
        why = "nobody is in one of the groups"
        return None, Limits(None, None, BOOTSTRAP, why), why
    if effects.estimate == 0:
        why = "the effects do not differ"
        return None, Limits(None, None, BOOTSTRAP, why), why
    if standing in ("dominates", "is dominated"):
        return None, Limits(None, None, BOOTSTRAP, DOMINANCE), DOMINANCE
    if standing in NOT_TOLD_APART:
        return None, Limits(None, None, BOOTSTRAP, NO_PRICE), NO_PRICE
    ratio = costs.estimate / effects.estimate
    if not effects.clear:
        return ratio, Limits(None, None, BOOTSTRAP, effects.limits.reason or UNCLEAR), None
    with np.errstate(divide="ignore", invalid="ignore"):
        return ratio, percentile_limits(cloud[:, 1] / cloud[:, 0], level=level), None


def _standing(effects: Difference, cost: float | None) -> Standing | None:
    effect = effects.estimate
    if effect is None or cost is None:
        return None
    if effect == 0 and cost == 0:
        return "alike"
    if cost and effect and (cost > 0) == (effect > 0):
        return "costs more, does more" if cost > 0 else "costs less, does less"
    if not effects.clear:
        return NOT_TOLD_APART[int(np.sign(cost))]
    return "dominates" if effect > 0 else "is dominated"


def _quadrants(cloud: FloatArray) -> dict[str, float] | None:
    """Shares of the resamples; one on a line counts with what costs less, or does more."""
    if not len(cloud):
        return None
    more, dear = cloud[:, 0] >= 0, cloud[:, 1] > 0
    cells = (dear & more, dear & ~more, ~dear & more, ~dear & ~more)
    return {name: float(cell.mean()) for name, cell in zip(QUADRANTS, cells, strict=True)}


def _net(effects: Difference, costs: Difference, cloud: FloatArray, willing: float, level: float) -> NetBenefit:
    if effects.estimate is None or costs.estimate is None:
        return NetBenefit(willing, None, effects.limits, None)
    estimate = willing * effects.estimate - costs.estimate
    if not len(cloud):
        return NetBenefit(willing, estimate, Limits(None, None, BOOTSTRAP, TOO_FEW), None)
    drawn = willing * cloud[:, 0] - cloud[:, 1]
    return NetBenefit(willing, estimate, percentile_limits(drawn, level=level), float((drawn > 0).mean()))
