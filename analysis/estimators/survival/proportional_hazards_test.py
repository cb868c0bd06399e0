"""Whether hazard ratios stay the same over time: the score test for a coefficient that changes with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Fitted, FloatArray
from analysis.estimators.survival.cox_likelihood import cox_sums, information, score
from analysis.estimators.survival.follow_up import FollowUp, follow_up
from analysis.estimators.survival.risk_sets import RiskSets, risk_sets

Transform = Literal["km", "rank", "identity", "log"]
GLOBAL = "all together"


@dataclass(frozen=True, kw_only=True)
class ProportionalTest:
    """Chi-squared on `df` of one column (or all): that its coefficient does not change with the transform of time."""

    label: str
    statistic: float
    df: int
    p: float
    transform: Transform


def proportional_hazards(
    fit: Fitted,
    time: npt.ArrayLike,
    event: npt.ArrayLike,
    x: FloatArray,
    *,
    transform: Transform = "km",
    strata: npt.ArrayLike | None = None,
    together: Sequence[tuple[str, Sequence[int]]] = (),
) -> tuple[ProportionalTest, ...]:
    """A test for each column, for each set of columns `together` (name and places), then for all together.

    fit, time, event, x, strata: the model and what it was made from. transform: g of time, 1 - survival just before
    (`km`), rank of the time among all times, the time itself, or its log.

    With coefficients b + theta g(t), the test of theta = 0 at the fit: U = sum of g (x - mean), and its information
    from sums of V, g V and g^2 V over events, V the variance of x among those at risk. Grambsch PM, Therneau TM,
    Biometrika 1994;81:515-526, as the exact score test (R's survival, 3.0 and later), rather than the approximation
    that takes V as constant. It takes rows as independent also where the fit allows for clusters.
    """
    from scipy import stats

    if transform not in get_args(Transform):
        raise ValueError(f"transform is {transform!r}; it is one of {', '.join(get_args(Transform))}.")
    data = follow_up(time, event)
    sets = risk_sets(data, None if strata is None else np.asarray(strata))
    sums = cox_sums(sets, (np.asarray(x, dtype=np.float64) - np.mean(x, axis=0))[sets.order], fit.coefficients)
    g = _transformed(data, sets, transform)
    u = score(sets, sums, g)
    plain, once, twice = (information(sets, sums, weight) for weight in (None, g, g * g))
    spread = twice - once @ np.linalg.solve(plain, once)
    made = []
    asked: list[tuple[str, tuple[int, ...]]] = [(name, (at,)) for at, name in enumerate(fit.names)]
    asked += [(name, tuple(places)) for name, places in together] + [(GLOBAL, tuple(range(len(fit.names))))]
    for label, places in asked:
        at = np.array(places)
        statistic = float(u[at] @ np.linalg.solve(spread[np.ix_(at, at)], u[at]))
        p = float(stats.chi2.sf(statistic, len(at)))
        made.append(ProportionalTest(label=label, statistic=statistic, df=len(at), p=p, transform=transform))
    return tuple(made)


def _transformed(data: FollowUp, sets: RiskSets, transform: Transform) -> FloatArray:
    """g at each step, less its mean (which leaves the test as it is, and the sums well scaled)."""
    from scipy import stats

    time = sets.moment_time[sets.step]
    if transform == "km":
        times, place = np.unique(data.time, return_inverse=True)
        died = np.bincount(place, weights=data.event, minlength=len(times))
        left = np.bincount(place, minlength=len(times))[::-1].cumsum()[::-1]
        before = np.concatenate([[1.0], np.cumprod(1 - died / left)[:-1]])
        g = 1 - before[np.searchsorted(times, time)]
    elif transform == "rank":
        g = stats.rankdata(data.time)[np.argsort(data.time)][np.searchsorted(np.sort(data.time), time)]
    else:
        g = time if transform == "identity" else np.log(time)
    return np.asarray(g - np.mean(g), dtype=np.float64)
