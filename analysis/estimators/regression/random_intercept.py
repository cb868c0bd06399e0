"""A logistic model in which every cluster (operator, patient) has a level of its own, by maximum likelihood.

No library at hand fits it by maximum likelihood (the variational one leans towards no spread), so that it is written
here: adaptive Gauss-Hermite quadrature over one normal intercept a cluster, tested against published fits.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import check_outcome, refuse_separated

LOGISTIC_VARIANCE = math.pi**2 / 3
FEW_POINTS = 7


def random_intercept_logistic(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    cluster: npt.ArrayLike,
    *,
    points: int = 15,
) -> Fitted:
    """Fit log odds = x b + u_cluster, u normal with standard deviation sd.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p). cluster: shape (rows,). points: of the quadrature around each
    cluster's own mode; 1 is Laplace's approximation. Pinheiro JC, Bates DM, J Comput Graph Stat 1995;4:12-35.

    extra: sd, sd_log_standard_error, share (of the variance on the latent scale that lies between clusters, sd^2 /
    (sd^2 + pi^2/3), Snijders TAB, Bosker RJ, Multilevel Analysis, 2nd ed., Sage 2012, chapter 17, from memory),
    median_odds_ratio (exp(sd sqrt(2) z_0.75), Larsen K, Merlo J, Am J Epidemiol 2005;161:81-88), modes (of each
    cluster its most likely level, in log odds).
    Raises NotEstimable when the outcome has one level or is separated, with fewer than two clusters, or when the
    search does not converge.
    """
    from scipy import optimize, stats

    y = np.asarray(outcome, dtype=np.float64)
    events, _ = check_outcome(y)
    refuse_separated(y, x, names)
    labels, code = np.unique(np.asarray(cluster), return_inverse=True)
    if len(labels) < 2:
        raise NotEstimable("A spread between clusters needs two clusters or more; there is one.")
    spread = x.std(axis=0)
    scale = np.where(spread > 0, spread, 1.0)
    integral = _Integral(y, x / scale, code, len(labels), points)
    start = np.append(_plain_start(y, x / scale), math.log(0.5))
    found = optimize.minimize(integral.negative, start, jac=integral.gradient, method="BFGS", options={"gtol": 1e-6})
    if not np.isfinite(found.fun) or np.abs(integral.gradient(found.x)).max() > 1e-2 * max(1.0, len(y) ** 0.5):
        raise NotEstimable(
            "The model with a level for each cluster did not converge, so that no number is given. Use fewer terms, or "
            "estimating equations."
        )
    hessian = _second_differences(integral.gradient, found.x)
    covariance = np.linalg.inv(hessian) / np.outer(np.append(scale, 1.0), np.append(scale, 1.0))
    sd = math.exp(found.x[-1])
    return Fitted(
        kind=f"logistic regression with an intercept for each cluster ({points} points of quadrature)",
        names=tuple(names),
        coefficients=found.x[:-1] / scale,
        covariance=covariance[:-1, :-1],
        covariance_method="inverse observed information",
        n=len(y),
        events=events,
        clusters=len(labels),
        log_likelihood=-float(found.fun),
        remarks=("Effects are within a cluster (conditional), not over the population.",),
        extra={
            "sd": sd,
            "sd_log_standard_error": float(math.sqrt(max(covariance[-1, -1], 0.0))),
            "share": sd**2 / (sd**2 + LOGISTIC_VARIANCE),
            "median_odds_ratio": math.exp(math.sqrt(2) * sd * float(stats.norm.ppf(0.75))),
            "modes": dict(zip((str(label) for label in labels), integral.modes(found.x).tolist(), strict=True)),
        },
    )


@dataclass(eq=False)
class _Integral:
    """The likelihood with the clusters' levels integrated out."""

    y: FloatArray
    x: FloatArray
    code: npt.NDArray[np.int64]
    clusters: int
    points: int

    def __post_init__(self) -> None:
        self.node, weight = np.polynomial.hermite_e.hermegauss(self.points)
        self.log_weight = np.log(weight) - 0.5 * math.log(2 * math.pi)
        self.held: tuple[FloatArray, FloatArray] | None = None

    def modes(self, at: FloatArray) -> FloatArray:
        """Each cluster's most likely level, in log odds."""
        mode, _ = self._mode(self.x @ at[:-1], math.exp(at[-1]))
        return mode * math.exp(at[-1])

    def negative(self, at: FloatArray) -> float:
        """Minus the log likelihood at (b, log sd)."""
        value, _ = self._worked(at)
        return -value

    def gradient(self, at: FloatArray) -> FloatArray:
        """Its gradient: the score, averaged over where each cluster's level may lie.

        The average is as good as the quadrature; with a point or two, differences are taken instead.
        """
        if self.points < FEW_POINTS:
            return _differences(self.negative, at)
        _, slope = self._worked(at)
        return -slope

    def _worked(self, at: FloatArray) -> tuple[float, FloatArray]:
        if self.held is not None and np.array_equal(self.held[0], at):
            return float(self.held[1][0]), self.held[1][1:]
        fixed, sd = self.x @ at[:-1], math.exp(at[-1])
        mode, curvature = self._mode(fixed, sd)
        width = 1 / np.sqrt(curvature)
        z = mode[:, None] + width[:, None] * self.node[None, :]
        along = fixed[:, None] + sd * z[self.code]
        each = self.y[:, None] * along - np.logaddexp(0, along)
        joint = np.zeros((self.clusters, self.points))
        np.add.at(joint, self.code, each)
        log_part = (
            joint - 0.5 * z**2 + 0.5 * self.node[None, :] ** 2 + self.log_weight[None, :] + np.log(width)[:, None]
        )
        top = log_part.max(axis=1, keepdims=True)
        part = np.exp(log_part - top)
        total = part.sum(axis=1, keepdims=True)
        value = float((np.log(total) + top).sum())
        share = (part / total)[self.code]
        rest = (self.y[:, None] - 1 / (1 + np.exp(-along))) * share
        slope = np.append(rest.sum(axis=1) @ self.x, float((rest * sd * z[self.code]).sum()))
        self.held = (at.copy(), np.append(value, slope))
        return value, slope

    def _mode(self, fixed: FloatArray, sd: float) -> tuple[FloatArray, FloatArray]:
        """Each cluster's mode on the standard scale, and minus the second derivative there, by Newton's steps."""
        z = np.zeros(self.clusters)
        curvature: FloatArray = np.ones(self.clusters)
        for _ in range(100):
            chance = 1 / (1 + np.exp(-np.clip(fixed + sd * z[self.code], -500, 500)))
            slope = sd * np.bincount(self.code, weights=self.y - chance, minlength=self.clusters) - z
            weights = chance * (1 - chance)
            curvature = np.asarray(sd**2 * np.bincount(self.code, weights=weights, minlength=self.clusters) + 1.0)
            step = np.clip(slope / curvature, -2, 2)
            z += step
            if np.abs(step).max() < 1e-11:
                break
        return z, curvature


def _plain_start(y: FloatArray, x: FloatArray) -> FloatArray:
    import statsmodels.api as sm

    return np.asarray(sm.GLM(y, x, family=sm.families.Binomial()).fit().params, dtype=np.float64)


def _differences(value: Callable[[FloatArray], float], at: FloatArray, step: float = 1e-6) -> FloatArray:
    moves = step * np.eye(len(at))
    return np.array([(value(at + move) - value(at - move)) / (2 * step) for move in moves])


def _second_differences(gradient: Callable[[FloatArray], FloatArray], at: FloatArray, step: float = 1e-4) -> FloatArray:
    moves = step * np.eye(len(at))
    made = np.array([(gradient(at + move) - gradient(at - move)) / (2 * step) for move in moves])
    return np.asarray((made + made.T) / 2, dtype=np.float64)
