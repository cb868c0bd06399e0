"""Logistic regression with Firth's penalty: finite where a plain model separates, less biased where events are few.

The libraries at hand return no number for some profile limits, and the profile needs the penalised likelihood anyway,
so that it is written here, and tested against published numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import check_outcome

MOST_STEPS, LONGEST_STEP, HALVINGS, TOLERANCE = 500, 5.0, 30, 1e-9
FURTHEST = 60.0
"""How far, in log odds for a column's standard deviation, a profile limit is looked for."""


def firth(outcome: npt.ArrayLike, x: FloatArray, names: Sequence[str]) -> Fitted:
    """Fit log odds with the Jeffreys penalty, l(b) + log|I(b)| / 2.

    outcome: 0 or 1, shape (rows,). x: shape (rows, p), intercept included. Firth D, Biometrika 1993;80:27-38; for
    logistic models Heinze G, Schemper M, Stat Med 2002;21:2409-2419. The covariance is the inverse information at the
    estimate; limits and tests come from the profile (`profile_effects`), for the likelihood is far from symmetric.
    Raises NotEstimable when the outcome has one level or the search does not converge.
    """
    y = np.asarray(outcome, dtype=np.float64)
    events, _ = check_outcome(y)
    q, r = _orthogonal(x)
    at = _maximum(y, q, np.zeros(x.shape[1]), held=False)
    back = np.linalg.inv(r)
    return Fitted(
        kind="logistic regression, Firth's penalised likelihood",
        names=tuple(names),
        coefficients=back @ at.b,
        covariance=back @ np.linalg.inv(_information(at.b, q)) @ back.T,
        covariance_method="inverse information at the penalised estimate",
        n=len(y),
        events=events,
        log_likelihood=at.value + float(np.log(np.abs(np.diag(r))).sum()),
        remarks=("Coefficients are penalised (Firth); limits are those of the profile.",),
    )


def profile_effects(
    fit: Fitted,
    outcome: npt.ArrayLike,
    x: FloatArray,
    places: Sequence[int],
    labels: Sequence[str],
    *,
    level: float = 0.95,
) -> list[Effect]:
    """Odds ratios of the coefficients at `places`, limits and p from the profile penalised likelihood.

    One coefficient is held, the others are fitted, the penalty always that of the full model (Heinze and Schemper
    2002); the limits are where twice the fall of the penalised likelihood reaches the chi-squared quantile, found by a
    bracketed root search. Raises NotEstimable when a search does not converge.
    """
    from scipy import stats

    y = np.asarray(outcome, dtype=np.float64)
    wanted = float(stats.chi2.ppf(level, 1))
    found = []
    for place, label in zip(places, labels, strict=True):
        profile = _Profile(y, x, fit.coefficients, place)
        low, high = sorted(profile.limit(sign, wanted) for sign in (-1.0, 1.0))
        p = float(stats.chi2.sf(profile.fall(0.0), 1))
        value = float(fit.coefficients[place])
        found.append(
            Effect(
                label=label,
                estimate=math.exp(value),
                low=math.exp(low),
                high=math.exp(high),
                standard_error=float(fit.standard_errors[place]),
                p=p,
                scale=fit.scale,
                level=level,
            )
        )
    return found


@dataclass(frozen=True, eq=False)
class _Point:
    b: FloatArray
    value: float


class _Profile:
    """The penalised likelihood with one coefficient held.

    Its column is put last, so that of the coefficients of the orthogonal columns the last one alone depends on it.
    """

    def __init__(self, y: FloatArray, x: FloatArray, coefficients: FloatArray, place: int) -> None:
        order = [*(at for at in range(x.shape[1]) if at != place), place]
        self.y = y
        self.q, r = _orthogonal(x[:, order])
        self.unit = float(r[-1, -1])
        self.best = _maximum(y, self.q, r @ coefficients[order], held=False)
        self.near = self.best.b

    def fall(self, held: float) -> float:
        """Twice the fall of the penalised log likelihood from its maximum, when the coefficient is `held`."""
        start = self.near.copy()
        start[-1] = held * self.unit
        at = _maximum(self.y, self.q, start, held=True)
        self.near = at.b
        return max(2 * (self.best.value - at.value), 0.0)

    def limit(self, sign: float, wanted: float) -> float:
        """Where the fall reaches `wanted`, on one side of the maximum."""
        from scipy.optimize import brentq

        self.near = self.best.b
        centre = float(self.best.b[-1] / self.unit)
        inner, step = centre, 0.5 / abs(self.unit)
        while self.fall(centre + sign * step) < wanted:
            inner = centre + sign * step
            step *= 2
            if step > FURTHEST / abs(self.unit):
                raise NotEstimable(
                    "A limit of the penalised model lies further out than can be told from no limit at all."
                )
        outer = centre + sign * step
        return float(brentq(lambda at: self.fall(at) - wanted, inner, outer, xtol=1e-10 / abs(self.unit), rtol=1e-10))


def _orthogonal(x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The columns made orthogonal, of mean square 1, so that units and likeness do not matter: x = q r."""
    q, r = np.linalg.qr(x)
    size = math.sqrt(len(x))
    return q * size, r / size


def _chance(b: FloatArray, x: FloatArray) -> FloatArray:
    made: FloatArray = 1 / (1 + np.exp(-np.clip(x @ b, -500, 500)))
    return made


def _information(b: FloatArray, x: FloatArray) -> FloatArray:
    p = _chance(b, x)
    made: FloatArray = (x * (p * (1 - p))[:, None]).T @ x
    return made


def _value(y: FloatArray, x: FloatArray, b: FloatArray) -> float:
    """Penalised log likelihood; minus infinity where the information vanishes."""
    along = x @ b
    sign, size = np.linalg.slogdet(_information(b, x))
    if sign <= 0:
        return -math.inf
    return float(y @ along - np.logaddexp(0, along).sum()) + 0.5 * float(size)


def _maximum(y: FloatArray, x: FloatArray, start: FloatArray, *, held: bool) -> _Point:
    """Newton's steps on Firth's score, halved until the likelihood rises; held: the last coefficient stays."""
    free = np.arange(x.shape[1] - held)
    b, value = start.copy(), _value(y, x, start)
    if not math.isfinite(value):
        b[free] = 0.0
        value = _value(y, x, b)
    for _ in range(MOST_STEPS):
        p = _chance(b, x)
        weight = p * (1 - p)
        information = (x * weight[:, None]).T @ x
        try:
            inverse = np.linalg.inv(information)
        except np.linalg.LinAlgError:
            break
        leverage = np.einsum("ij,jk,ik->i", x, inverse, x) * weight
        score = x.T @ (y - p + leverage * (0.5 - p))
        if not len(free):
            return _Point(b, value)
        step = np.linalg.solve(information[np.ix_(free, free)], score[free])
        longest = float(np.abs(step).max())
        step *= min(1.0, LONGEST_STEP / longest) if longest > 0 else 1.0
        for _ in range(HALVINGS):
            tried = b.copy()
            tried[free] += step
            there = _value(y, x, tried)
            if there >= value - 1e-12:
                break
            step = step / 2
        moved = float(np.abs(tried - b).max())
        b, value = tried, there
        if moved < TOLERANCE and float(np.abs(score[free]).max()) < 1e-6:
            return _Point(b, value)
    raise NotEstimable(
        f"The penalised logistic model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer "
        "terms."
    )
