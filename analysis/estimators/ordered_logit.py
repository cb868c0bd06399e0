"""The ordered logistic model for classes of which some are known only to lie within a range.

An ordered logit with exact classes is in statsmodels; this one also takes ranges ("something, size not told"), which
would have to be left out otherwise, and with them more of the higher classes than of the lowest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import FloatArray

IntArray = npt.NDArray[np.int64]
PRIOR_SD = 2.5
PRIOR_ROWS = 0.05
STEPS = 100


@dataclass(frozen=True, eq=False)
class OrderedLogit:
    """cuts: shape (classes - 1,), rising; slopes: shape (columns,). covariance: of the cuts, then the slopes."""

    cuts: FloatArray
    slopes: FloatArray
    covariance: FloatArray
    converged: bool


def fit_ordered_logit(
    lowest: IntArray,
    highest: IntArray,
    x: FloatArray,
    classes: int,
    *,
    times: FloatArray | None = None,
    start: OrderedLogit | None = None,
    prior_sd: float = PRIOR_SD,
    prior_rows: float = PRIOR_ROWS,
) -> OrderedLogit:
    """Fit P(class <= c | x) = 1 / (1 + exp(-(cut_c - x slopes))) to rows whose class lies from lowest to highest.

    lowest, highest: shape (rows,), 0 to classes - 1. times: how often each row counts, once if not told. start: a fit
    to begin from. x: shape (rows, columns), standardised, without intercept. The
    log likelihood of ranges is concave for the logistic law (Burridge J, J R Stat Soc B 1981;43:41-45 [from memory]),
    so Newton's method with halved steps finds its one maximum. Slopes have a normal prior with prior_sd, and each
    class prior_rows rows at x = 0, so that no class that nobody is in, and no level of which everybody is in one,
    sends a coefficient to infinity; prior_rows=0, prior_sd=inf is maximum likelihood.
    """
    width, cuts = x.shape[1], classes - 1
    x = np.vstack([x, np.zeros((classes, width))])
    lowest, highest = (np.concatenate([ends, np.arange(classes)]) for ends in (lowest, highest))
    weight = np.concatenate([np.ones(len(x) - classes) if times is None else times, np.full(classes, prior_rows)])
    kept = (weight > 0) & ~((lowest == 0) & (highest == cuts))
    x, lowest, highest, weight = x[kept], lowest[kept], highest[kept], weight[kept]
    share = np.bincount(lowest, weights=weight, minlength=classes) + 0.5
    below = np.cumsum(share)[:-1] / share.sum()
    parameters = np.concatenate([np.log(below / (1 - below)), np.zeros(width)])
    if start is not None:
        parameters = np.concatenate([start.cuts, start.slopes])
    penalty = np.concatenate([np.zeros(cuts), np.full(width, prior_sd**-2.0)])
    value, gradient, hessian = _likelihood(parameters, x, lowest, highest, weight, penalty, cuts)
    converged = False
    for _ in range(STEPS):
        step = np.linalg.solve(hessian + 1e-10 * np.eye(len(hessian)), gradient)
        if float(step @ gradient) < 1e-12:
            converged = True
            break
        size = 1.0
        while size > 1e-9:
            tried = parameters + size * step
            if (np.diff(tried[:cuts]) > 0).all():
                new = _likelihood(tried, x, lowest, highest, weight, penalty, cuts)
                if new[0] >= value - 1e-12 * abs(value):
                    break
            size /= 2
        else:
            break
        parameters, (value, gradient, hessian) = tried, new
    covariance = np.linalg.inv(hessian + 1e-10 * np.eye(len(hessian)))
    return OrderedLogit(parameters[:cuts], parameters[cuts:], np.asarray(covariance, dtype=np.float64), converged)


def _likelihood(
    parameters: FloatArray,
    x: FloatArray,
    lowest: IntArray,
    highest: IntArray,
    weight: FloatArray,
    penalty: FloatArray,
    cuts: int,
) -> tuple[float, FloatArray, FloatArray]:
    """Penalised log likelihood, its gradient, and minus its second derivatives."""
    ends = np.concatenate([[-np.inf], parameters[:cuts], [np.inf]])
    linear = x @ parameters[cuts:]
    upper, lower = ends[highest + 1] - linear, ends[lowest] - linear
    # F(u) - F(v) = F(u) F(-v) (1 - exp(v - u)), which loses nothing far out.
    with np.errstate(over="ignore"):
        gap = -np.expm1(np.where(np.isfinite(lower) & np.isfinite(upper), lower - upper, -np.inf))
        log_p = -np.logaddexp(0, -upper) - np.logaddexp(0, lower) + np.log(gap)
        p = np.exp(log_p)
        f_upper, f_lower = _density(upper), _density(lower)
    a, b = f_upper / p, f_lower / p  # of the log likelihood by the upper and (minus) the lower end
    slope_u, slope_l = f_upper * -np.tanh(upper / 2) / p, f_lower * -np.tanh(lower / 2) / p
    slope_u, slope_l = np.nan_to_num(slope_u), np.nan_to_num(slope_l)
    of_upper, of_lower = _indicator(highest + 1, cuts), _indicator(lowest, cuts)
    by_upper, by_lower = np.hstack([of_upper, -x]), np.hstack([of_lower, -x])
    gradient = by_upper.T @ (weight * a) - by_lower.T @ (weight * b) - penalty * parameters
    mixed = by_upper.T @ ((weight * a * b)[:, None] * by_lower)
    hessian = (
        by_upper.T @ ((weight * (a**2 - slope_u))[:, None] * by_upper)
        + by_lower.T @ ((weight * (b**2 + slope_l))[:, None] * by_lower)
        - mixed
        - mixed.T
        + np.diag(penalty)
    )
    value = float(weight @ log_p) - 0.5 * float(penalty @ parameters**2)
    return value, gradient, hessian


def _density(at: FloatArray) -> FloatArray:
    """Of the logistic law; 0 at infinity."""
    tail = np.exp(-np.abs(at))
    return np.asarray(tail / (1 + tail) ** 2, dtype=np.float64)


def _indicator(end: IntArray, cuts: int) -> FloatArray:
    """Which cut an end is, none for the outermost."""
    return np.asarray(end[:, None] == np.arange(1, cuts + 1)[None, :], dtype=np.float64)


def class_chances(cuts: FloatArray, slopes: FloatArray, x: FloatArray) -> FloatArray:
    """The chance of every class in every row, shape (rows, classes)."""
    at = np.clip(cuts[None, :] - (x @ slopes)[:, None], -700, 700)
    below = np.hstack([np.zeros((len(x), 1)), 1 / (1 + np.exp(-at)), np.ones((len(x), 1))])
    return np.asarray(np.maximum(np.diff(below, axis=1), 1e-300), dtype=np.float64)
