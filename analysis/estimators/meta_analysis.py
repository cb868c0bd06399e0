"""Estimates of several studies put together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import normal_quantile

FloatArray = npt.NDArray[np.float64]
Between = Literal["none", "DL", "PM", "REML", "ML"]

NAMES: dict[Between, str] = {
    "none": "one effect for all (inverse variance)",
    "DL": "random effects, DerSimonian and Laird",
    "PM": "random effects, Paule and Mandel",
    "REML": "random effects, restricted maximum likelihood",
    "ML": "random effects, maximum likelihood",
}


@dataclass(frozen=True, kw_only=True)
class Pooled:
    """between: variance between studies (tau squared). share: of the variance that lies between (I squared, percent).
    low_t, high_t: Hartung and Knapp's. low_next, high_next: where the next study's true effect lies (t, k - 2).
    """

    estimate: float
    low: float
    high: float
    standard_error: float
    low_t: float | None
    high_t: float | None
    standard_error_t: float | None
    low_next: float | None
    high_next: float | None
    between: float
    share: float
    q: float
    p_q: float
    studies: int
    method: str
    level: float


def pooled(
    effects: npt.ArrayLike, variances: npt.ArrayLike, *, between: Between = "REML", level: float = 0.95
) -> Pooled:
    """Pool effects with known variances.

    effects, variances: shape (studies,), two or more. DerSimonian R, Laird N, Control Clin Trials 1986;7:177-188;
    Paule RC, Mandel J, J Res Natl Bur Stand 1982;87:377-385; REML and ML by Fisher scoring (Viechtbauer W, J Stat Softw
    2010;36(3)); Hartung J, Knapp G, Stat Med 2001;20:3875-3889; interval of the next study Higgins JPT, Thompson SG,
    Spiegelhalter DJ, J R Stat Soc A 2009;172:137-159. Raises ValueError for fewer than two studies or variances not
    above 0.
    """
    from scipy import stats

    y, v = np.asarray(effects, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    if len(y) < 2 or y.shape != v.shape or not (v > 0).all():
        raise ValueError("Two studies or more, each with an effect and a variance above 0.")
    k, w = len(y), 1 / v
    q = float(w @ (y - (w @ y) / w.sum()) ** 2)
    tau2 = _between(y, v, between, q)
    weight = 1 / (v + tau2)
    mean, error = float(weight @ y / weight.sum()), float(1 / math.sqrt(weight.sum()))
    z, t = normal_quantile(level=level), float(stats.t.ppf((1 + level) / 2, k - 1))
    typical = (k - 1) * w.sum() / (w.sum() ** 2 - (w**2).sum())
    share = 100 * tau2 / (tau2 + typical) if between != "none" else max(0.0, 100 * (q - (k - 1)) / q)
    spread = math.sqrt(float(weight @ (y - mean) ** 2) / (k - 1)) * error if between != "none" else None
    following = math.sqrt(tau2 + error**2) * float(stats.t.ppf((1 + level) / 2, k - 2)) if k > 2 else None
    random = between != "none"
    return Pooled(
        estimate=mean,
        low=mean - z * error,
        high=mean + z * error,
        standard_error=error,
        low_t=None if spread is None else mean - t * spread,
        high_t=None if spread is None else mean + t * spread,
        standard_error_t=spread,
        low_next=mean - following if random and following is not None else None,
        high_next=mean + following if random and following is not None else None,
        between=tau2,
        share=float(share),
        q=q,
        p_q=float(stats.chi2.sf(q, k - 1)),
        studies=k,
        method=NAMES[between],
        level=level,
    )


def between_limits(effects: npt.ArrayLike, variances: npt.ArrayLike, *, level: float = 0.95) -> tuple[float, float]:
    """Limits of the variance between studies by inverting Q (Viechtbauer W, Stat Med 2007;26:37-52)."""
    from scipy import optimize, stats

    y, v = np.asarray(effects, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    found = []
    for probability in ((1 + level) / 2, (1 - level) / 2):
        wanted = float(stats.chi2.ppf(probability, len(y) - 1))
        if _q(y, v, 0.0) <= wanted:
            found.append(0.0)
            continue
        high = 1.0
        while _q(y, v, high) > wanted:
            high *= 2
        found.append(float(optimize.brentq(lambda at, wanted=wanted: _q(y, v, at) - wanted, 0.0, high, xtol=1e-12)))
    return found[0], found[1]


def small_study_effect(effects: npt.ArrayLike, variances: npt.ArrayLike) -> tuple[float, float, float]:
    """Intercept, its standard error and p of effect over error on one over error (Egger M et al, BMJ 1997;315:629)."""
    import statsmodels.api as sm

    error = np.sqrt(np.asarray(variances, dtype=np.float64))
    made = sm.OLS(
        np.asarray(effects, dtype=np.float64) / error, np.column_stack([np.ones(len(error)), 1 / error])
    ).fit()
    return float(made.params[0]), float(made.bse[0]), float(made.pvalues[0])


def _q(y: FloatArray, v: FloatArray, tau2: float) -> float:
    w = 1 / (v + tau2)
    return float(w @ (y - (w @ y) / w.sum()) ** 2)


def _between(y: FloatArray, v: FloatArray, method: Between, q: float) -> float:
    from scipy import optimize

    k, w = len(y), 1 / v
    moments = max(0.0, (q - (k - 1)) / (w.sum() - (w**2).sum() / w.sum()))
    if method == "none":
        return 0.0
    if method == "DL":
        return float(moments)
    if method == "PM":
        if q <= k - 1:
            return 0.0
        high = 1.0
        while _q(y, v, high) > k - 1:
            high *= 2
        return float(optimize.brentq(lambda at: _q(y, v, at) - (k - 1), 0.0, high, xtol=1e-14))
    tau2 = float(moments)
    for _ in range(1000):
        w = 1 / (v + tau2)
        rest = y - (w @ y) / w.sum()
        slope = float((w**2) @ (rest**2 - v) / (w**2).sum())
        following = max(0.0, slope + (1 / w.sum() if method == "REML" else 0.0))
        if abs(following - tau2) < 1e-14:
            break
        tau2 = following
    return tau2
