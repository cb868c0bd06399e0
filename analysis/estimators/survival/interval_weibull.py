"""A Weibull model of an event that is only known to lie between two looks, with errors that allow for clusters.

lifelines fits it too, but knows no clusters; here each row's part in the slope is at hand. Tested against lifelines'.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable, limits_factor
from analysis.estimators.survival.turnbull import checked_intervals

SHAPE = "log shape"


@dataclass(frozen=True, kw_only=True)
class WeibullAt:
    """Survival at a time for one set of columns, limits on the log(-log) scale."""

    time: float
    estimate: float
    low: float
    high: float
    level: float


def interval_weibull(
    left: npt.ArrayLike,
    right: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit S(t) = exp(-(t / exp(x b))^k) to events in (left, right]; exp(b) is a ratio of times.

    left, right: as `turnbull`, right infinite when there was none by the last look. x: shape (rows, p), the intercept
    among the columns. cluster: shape (rows,). The last coefficient is the log of the shape k; exp(-k b) is a hazard
    ratio. Kalbfleisch JD, Prentice RL, The Statistical Analysis of Failure Time Data, 2nd ed., Wiley 2002, chapter 3.
    Raises NotEstimable when the search does not end at a maximum, as when a level has no event.
    """
    from scipy import optimize

    low, high = checked_intervals(left, right)
    x = np.asarray(x, dtype=np.float64)
    if x.shape != (len(low), len(names)):
        raise ValueError(f"x must be numbers of shape ({len(low)}, {len(names)}), not {x.shape}.")
    spread = np.where(x.std(axis=0) > 0, x.std(axis=0), 1.0)
    model = _Likelihood(low, high, x / spread)
    middle = np.where(np.isfinite(high), (low + high) / 2, np.maximum(low, 1e-6))
    start = np.append(np.linalg.lstsq(x / spread, np.log(middle), rcond=None)[0], 0.0)
    found = optimize.minimize(model.negative, start, jac=model.slope, method="BFGS", options={"gtol": 1e-7})
    slope = np.abs(model.slope(found.x)).max()
    curve = _curvature(model, found.x)
    sound = np.isfinite(curve).all() and np.linalg.eigvalsh(curve).min() > 1e-8 * np.linalg.eigvalsh(curve).max()
    if not sound or slope > 1e-4 * max(1.0, len(low) ** 0.5):
        raise NotEstimable(
            "The Weibull model has no maximum that the search could find (a level in which nobody has the event, or "
            "all have it before the first look, as a rule), so that no number is given. Join levels, or use Turnbull's "
            "estimator."
        )
    back = np.append(1 / spread, 1.0)
    bread: FloatArray = np.asarray(np.linalg.inv(curve) * np.outer(back, back), dtype=np.float64)
    covariance, clusters, method = bread, None, "from the model (inverse information)"
    if cluster is not None:
        scores = model.rows(found.x) / back
        covariance, clusters = cluster_covariance(
            bread=bread, scores=scores, cluster=np.asarray(cluster), correction=correction
        )
        method = CORRECTIONS[correction]
    return Fitted(
        kind="Weibull regression of interval-censored times",
        names=(*names, SHAPE),
        coefficients=np.asarray(found.x * back, dtype=np.float64),
        covariance=covariance,
        covariance_method=method,
        n=len(low),
        events=int(np.isfinite(high).sum()),
        clusters=clusters,
        log_likelihood=-float(found.fun),
        scale="ratio of times",
    )


class _Likelihood:
    """The log likelihood of rows, its slope, and each row's part in that."""

    def __init__(self, low: FloatArray, high: FloatArray, x: FloatArray) -> None:
        self.x = x
        with np.errstate(divide="ignore"):
            self.log_low, self.log_high = np.log(low), np.log(high)  # minus infinity at 0, infinity when never

    def _parts(self, values: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """log likelihood of rows, and its slopes in x b and in log k."""
        k, eta = math.exp(min(values[-1], 50.0)), self.x @ values[:-1]
        made = []
        for log_time in (self.log_low, self.log_high):
            u = k * (log_time - eta)
            hazard = np.exp(np.minimum(u, 700.0))
            inside = np.isfinite(u) & (u < 700)
            survival = np.where(inside, np.exp(-hazard), np.where(u > 0, 0.0, 1.0))
            flow = np.where(inside, survival * hazard, 0.0)
            made.append((survival, k * flow, -flow * np.where(inside, u, 0.0)))
        chance = np.maximum(made[0][0] - made[1][0], 1e-300)
        by_eta = (made[0][1] - made[1][1]) / chance
        by_shape = (made[0][2] - made[1][2]) / chance
        return np.log(chance), by_eta, by_shape

    def negative(self, values: FloatArray) -> float:
        """Minus the log likelihood."""
        return -float(self._parts(values)[0].sum())

    def rows(self, values: FloatArray) -> FloatArray:
        """Each row's slope, shape (rows, p + 1)."""
        _, by_eta, by_shape = self._parts(values)
        return np.column_stack([self.x * by_eta[:, None], by_shape])

    def slope(self, values: FloatArray) -> FloatArray:
        """Slope of minus the log likelihood."""
        return np.asarray(-self.rows(values).sum(axis=0), dtype=np.float64)


def _curvature(model: _Likelihood, at: FloatArray) -> FloatArray:
    """By central differences of the slope."""
    made = np.empty((len(at), len(at)))
    for place, step in enumerate(1e-5 * np.maximum(np.abs(at), 1.0)):
        move = np.zeros(len(at))
        move[place] = step
        made[place] = (model.slope(at + move) - model.slope(at - move)) / (2 * step)
    return np.asarray((made + made.T) / 2, dtype=np.float64)


def weibull_survival(
    fit: Fitted, columns: npt.ArrayLike, times: Sequence[float], *, level: float = 0.95
) -> list[WeibullAt]:
    """Survival at times (above 0) for one row of columns, the intercept among them, by the delta method."""
    row = np.asarray(columns, dtype=np.float64)
    k, eta, factor = math.exp(fit.coefficients[-1]), float(row @ fit.coefficients[:-1]), limits_factor(fit, level)
    made = []
    for time in times:
        if not time > 0:
            raise ValueError(f"The time is {time}; it must be above 0.")
        u = k * (math.log(time) - eta)  # the log of the cumulative hazard
        gradient = np.append(-k * row, u)
        half = factor * math.sqrt(float(gradient @ fit.covariance @ gradient))
        made.append(
            WeibullAt(
                time=time,
                estimate=math.exp(-math.exp(u)),
                low=math.exp(-math.exp(u + half)),
                high=math.exp(-math.exp(u - half)),
                level=level,
            )
        )
    return made
