"""Regressions of several imputed data sets combined into one, by Rubin's rules."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.estimators.imputations_needed import imputations_needed
from analysis.estimators.regression.fitted import Effect, Fitted, FloatArray, NotEstimable, WaldTest
from analysis.estimators.rubin import METHOD, Pooled, pool


@dataclass(frozen=True, kw_only=True, eq=False)
class PooledFit:
    """fits: of each imputed data set, alike. complete_df: degrees of freedom if nothing were missing."""

    fits: tuple[Fitted, ...]
    complete_df: float
    method: str = METHOD

    @property
    def names(self) -> tuple[str, ...]:
        """Of the coefficients."""
        return self.fits[0].names

    @property
    def coefficients(self) -> FloatArray:
        """The means over imputations, shape (p,)."""
        made: FloatArray = np.mean([fit.coefficients for fit in self.fits], axis=0)
        return made

    @property
    def covariance(self) -> FloatArray:
        """Within, and (1 + 1/m) between, shape (p, p)."""
        within = np.mean([fit.covariance for fit in self.fits], axis=0)
        made: FloatArray = within + (1 + 1 / len(self.fits)) * self.between
        return made

    @property
    def between(self) -> FloatArray:
        """The covariance of coefficients over imputations, shape (p, p)."""
        b = np.stack([fit.coefficients for fit in self.fits])
        off = b - b.mean(axis=0)
        made: FloatArray = off.T @ off / (len(b) - 1)
        return made


@dataclass(frozen=True, kw_only=True)
class PooledEffect:
    """An effect as of one fit, and how it was pooled (on the scale of coefficients)."""

    effect: Effect
    pooled: Pooled


@dataclass(frozen=True, kw_only=True)
class Enough:
    """Whether there were enough imputations: largest fraction of missing information, of which coefficient, and how
    many keep the standard error within a twentieth from one seed to the next."""

    imputations: int
    needed: int
    largest_fraction: float
    of: str

    @property
    def enough(self) -> bool:
        """Whether as many were made as are needed."""
        return self.imputations >= self.needed


def pooled_fit(fits: Sequence[Fitted], complete_df: float | None = None) -> PooledFit:
    """Fits of the same model to each imputed data set.

    complete_df: if None, the fits' own (of t limits), else clusters - 1 with clusters, else rows less coefficients.
    Raises NotEstimable for fewer than two; ValueError where they are not the same model of as many rows.
    """
    fits = tuple(fits)
    if len(fits) < 2:
        raise NotEstimable(f"Pooling needs fits of two imputed data sets or more, and there is {len(fits)}.")
    first = fits[0]
    if any(each.names != first.names or each.n != first.n or each.scale != first.scale for each in fits):
        raise ValueError("The fits are not of one model: names, rows and scale have to be the same in all.")
    if complete_df is None:
        if first.df is not None:
            complete_df = first.df
        elif first.clusters is not None:
            complete_df = first.clusters - 1.0
        else:
            complete_df = float(first.n - len(first.names))
    if not complete_df > 0:
        raise NotEstimable("There is no row (or cluster) to spare, so that no error can be told. Leave terms out.")
    return PooledFit(fits=fits, complete_df=complete_df)


def pooled_effect(made: PooledFit, weights: npt.ArrayLike, label: str, *, level: float = 0.95) -> PooledEffect:
    """A weighted sum of coefficients, exponentiated on a ratio's scale; weights: shape (p,). Rules: ``rubin.pool``."""
    from scipy import stats

    w = np.asarray(weights, dtype=np.float64)
    found = pool(
        [float(w @ fit.coefficients) for fit in made.fits],
        [float(w @ fit.covariance @ w) for fit in made.fits],
        made.complete_df,
        level=level,
    )
    ratio = math.exp if made.fits[0].exponentiated else float
    own = Effect(
        label=label,
        estimate=ratio(found.estimate),
        low=ratio(found.low),
        high=ratio(found.high),
        standard_error=found.se,
        p=float(2 * stats.t.sf(abs(found.estimate) / found.se, found.df)),
        scale=made.fits[0].scale,
        level=level,
    )
    return PooledEffect(effect=own, pooled=found)


def pooled_effects(made: PooledFit, labels: Sequence[str] | None = None, *, level: float = 0.95) -> list[PooledEffect]:
    """Every coefficient; labels stand for the names."""
    said = made.names if labels is None else labels
    return [pooled_effect(made, row, label, level=level) for row, label in zip(np.eye(len(said)), said, strict=True)]


def pooled_wald(made: PooledFit, places: npt.ArrayLike, label: str) -> WaldTest:
    """Whether several coefficients are all nothing, of all imputations together (D1).

    F = b' ((1 + r) W)^-1 b / k with r = (1 + 1/m) trace(B W^-1) / k (Li KH, Raghunathan TE, Rubin DB, J Am Stat Assoc
    1991;86:1065-1073), denominator degrees of freedom of Reiter JP, Biometrika 2007;94:502-508. Raises NotEstimable
    when the covariance within imputations has no inverse, or with too few imputations for those degrees of freedom.
    """
    from scipy import stats

    at = np.asarray(places, dtype=np.int64)
    k, m = len(at), len(made.fits)
    b = made.coefficients[at]
    within = np.mean([fit.covariance[np.ix_(at, at)] for fit in made.fits], axis=0)
    if np.linalg.matrix_rank(within, hermitian=True) < k:
        raise NotEstimable(
            f"{label} cannot be tested: the covariance of its {k} coefficients has a lower rank (fewer clusters than "
            "coefficients, as a rule)."
        )
    r = (1 + 1 / m) * float(np.trace(np.linalg.solve(within, made.between[np.ix_(at, at)]))) / k
    statistic = float(b @ np.linalg.solve(within, b)) / (k * (1 + r))
    df = _reiter_df(k, m, r, made.complete_df)
    if df is None:
        raise NotEstimable(f"{label} cannot be tested with {m} imputations and these rows. Take more imputations.")
    return WaldTest(
        label=label,
        statistic=statistic,
        df=k,
        p=float(stats.f.sf(statistic, k, df)),
        test="Wald F over imputations (D1)",
        df_denominator=df,
    )


def enough_imputations(made: PooledFit, places: npt.ArrayLike | None = None) -> Enough:
    """Whether the imputations were enough for the coefficients at `places`, all if None (``imputations_needed``)."""
    at = np.arange(len(made.names)) if places is None else np.asarray(places, dtype=np.int64)
    every = [each.pooled for each in pooled_effects(made)]
    fractions = {  # where nothing differs nothing is missing, whatever few degrees of freedom add
        made.names[place]: min(1.0, every[place].fraction_missing) if every[place].between > 0 else 0.0 for place in at
    }
    of = max(fractions, key=lambda name: fractions[name])
    many = len(made.fits)
    return Enough(
        imputations=many,
        needed=imputations_needed(fractions[of], many),
        largest_fraction=fractions[of],
        of=of,
    )


def _reiter_df(k: int, m: int, r: float, complete: float) -> float | None:
    t = k * (m - 1)
    if r <= 0:
        return complete
    if t <= 4:
        return None if t < 1 else t * (1 + 1 / k) * (1 + 1 / r) ** 2 / 2
    if math.isinf(complete):
        return 4 + (t - 4) * (1 + (1 - 2 / t) / r) ** 2
    a = r * t / (t - 2)
    observed = (complete + 1) / (complete + 3) * complete
    c0, c1, c2 = 1 / (t - 4), observed - 2 * (1 + a), observed - 4 * (1 + a)
    if c1 <= 0 or c2 <= 0:
        return None
    inverse = 1 / c2 + c0 * (
        a**2 * c1 / ((1 + a) ** 2 * c2)
        + 8 * a**2 * c1 / ((1 + a) * c2**2)
        + 4 * a**2 / ((1 + a) * c2)
        + 4 * a**2 / (c2 * c1)
        + 16 * a**2 * c1 / c2**3
        + 8 * a**2 / c2**2
    )
    return 4 + 1 / inverse
