"""Results of several imputed data sets combined into one, by Rubin's rules."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.estimators.proportions import normal_quantile

METHOD = "Rubin's rules, Barnard-Rubin degrees of freedom"


@dataclass(frozen=True)
class Pooled:
    """One estimate from m imputations, with its t limits.

    within, between, total: variances; total = within + (1 + 1/m) between. riv: relative increase of the variance by
    what is missing. share_missing: of the total variance, (1 + 1/m) between / total (lambda). fraction_missing: of the
    information, with Barnard and Rubin's df. df_rubin: of 1987, for an endless sample. Infinite where nothing varies
    between imputations and no complete-data df was given.
    """

    estimate: float
    se: float
    low: float
    high: float
    df: float
    df_rubin: float
    within: float
    between: float
    total: float
    riv: float
    share_missing: float
    fraction_missing: float
    imputations: int
    level: float


def pool(
    estimates: Sequence[float],
    variances: Sequence[float],
    complete_df: float = math.inf,
    *,
    level: float = 0.95,
) -> Pooled:
    """Combine one estimate and its variance from each imputed data set.

    estimates, variances: one entry an imputation, two or more, on a scale where a normal law is fair (the logit of a
    proportion). complete_df: degrees of freedom if nothing were missing, n - k of a model of k coefficients.

    With W the mean variance, B = sum (q - mean)^2 / (m - 1), T = W + (1 + 1/m) B and lambda = (1 + 1/m) B / T:
    df_rubin = (m - 1) / lambda^2 (Rubin DB, Multiple Imputation for Nonresponse in Surveys, Wiley 1987, 3.1);
    df = 1 / (1/df_rubin + 1/v), v = (c + 1)/(c + 3) c (1 - lambda) with c = complete_df (Barnard J, Rubin DB,
    Biometrika 1999;86:948-955); fraction of missing information (r + 2/(df + 3))/(1 + r), r = (1 + 1/m) B / W (Rubin
    1987). Limits: estimate -+ t(df) sqrt(T).

    Raises ValueError for fewer than two imputations, unequal lengths, a value that is not finite, a variance that is
    not above 0, complete_df not above 0, or level.
    """
    z = normal_quantile(level=level)
    q, u = np.asarray(estimates, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    if q.ndim != 1 or q.shape != u.shape or len(q) < 2:
        raise ValueError(f"Pooling needs an estimate and a variance from each of 2 or more imputations, not {len(q)}.")
    if not (np.isfinite(q).all() and np.isfinite(u).all() and (u > 0).all()):
        raise ValueError("Every estimate must be finite and every variance finite and above 0.")
    if not complete_df > 0:
        raise ValueError(f"complete_df is {complete_df}; degrees of freedom lie above 0.")
    m = len(q)
    # A sum over equal values may round; nothing between is nothing.
    mean = float(q[0]) if (q == q[0]).all() else float(q.mean())
    within = float(u.mean())
    between = float(((q - mean) ** 2).sum()) / (m - 1)
    extra = (1 + 1 / m) * between
    total = within + extra
    share = extra / total
    df_rubin = (m - 1) / share**2 if share > 0 else math.inf
    df = barnard_rubin_df(m, share, complete_df)
    riv = extra / within
    rest = 0.0 if math.isinf(df) else 2 / (df + 3)
    half = (z if math.isinf(df) else _t_quantile(df, level)) * math.sqrt(total)
    return Pooled(
        estimate=mean,
        se=math.sqrt(total),
        low=mean - half,
        high=mean + half,
        df=df,
        df_rubin=df_rubin,
        within=within,
        between=between,
        total=total,
        riv=riv,
        share_missing=share,
        fraction_missing=(riv + rest) / (1 + riv),
        imputations=m,
        level=level,
    )


def barnard_rubin_df(imputations: int, share_missing: float, complete_df: float) -> float:
    """Degrees of freedom of a pooled estimate; formula and source as in ``pool``."""
    observed = math.inf
    if math.isfinite(complete_df):
        observed = (complete_df + 1) / (complete_df + 3) * complete_df * (1 - share_missing)
    old = (imputations - 1) / share_missing**2 if share_missing > 0 else math.inf
    inverse = (0.0 if math.isinf(old) else 1 / old) + (0.0 if math.isinf(observed) else 1 / observed)
    return 1 / inverse if inverse > 0 else math.inf


def _t_quantile(df: float, level: float) -> float:
    from scipy.special import stdtrit  # slow to load: only for who asks

    return -float(stdtrit(df, (1 - level) / 2))
