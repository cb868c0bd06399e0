"""Counts: Poisson with robust errors, negative binomial where they scatter more than a Poisson count does."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.dependent import refuse_dependent
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable

MOST_STEPS = 200
EACH_ROW = "robust to any variance (every row its own cluster), "


@dataclass(frozen=True, kw_only=True)
class Dispersion:
    """ratio: Pearson's chi-squared over its degrees of freedom, 1 for a Poisson count. statistic, p: of the test named.

    statistic above 0 speaks for more scatter, below for less.
    """

    ratio: float
    statistic: float
    p: float
    test: str
    n: int

    def more_than_poisson(self, below: float = 0.05) -> bool:
        """Whether the counts scatter more than Poisson ones, by the test at `below`."""
        return self.statistic > 0 and self.p < below


@dataclass(frozen=True, kw_only=True, eq=False)
class Counts:
    """fit: the one to read; poisson: the Poisson model; dispersion: why the one to read is which."""

    fit: Fitted
    poisson: Fitted
    dispersion: Dispersion
    reason: str


def counts(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    exposure: npt.ArrayLike | None = None,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    below: float = 0.05,
) -> Counts:
    """The Poisson model, and the negative binomial one where the dispersion test finds more scatter (p under `below`).

    Arguments as `poisson`. Both estimate the same ratio of means and have robust errors, so that the choice is one of
    efficiency, not of validity.
    """
    plain = poisson(outcome, x, names, exposure=exposure, cluster=cluster, correction=correction)
    found = dispersion(outcome, x, exposure=exposure)
    said = f"{found.test}: p {found.p:.3g}, Pearson ratio {found.ratio:.2f}"
    if not found.more_than_poisson(below):
        return Counts(
            fit=plain, poisson=plain, dispersion=found, reason=f"no more scatter than Poisson counts ({said})"
        )
    try:
        wider = negative_binomial(outcome, x, names, exposure=exposure, cluster=cluster, correction=correction)
    except NotEstimable as fault:
        remark = f"overdispersed ({said}), kept as Poisson with robust errors: {fault}"
        return Counts(
            fit=replace(plain, remarks=(*plain.remarks, remark)), poisson=plain, dispersion=found, reason=remark
        )
    return Counts(fit=wider, poisson=plain, dispersion=found, reason=f"overdispersed ({said})")


def poisson(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    exposure: npt.ArrayLike | None = None,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit log mean = x b (+ log exposure); errors from the sandwich, right whatever the variance.

    outcome: whole counts from 0, shape (rows,), without gaps. x: shape (rows, p), intercept included. exposure: time
    or number at risk of each row, above 0; exp(b) is then a rate ratio, else a ratio of means. cluster: shape (rows,),
    None takes each row as a cluster (White H, Econometrica 1980;48:817-838). Gourieroux C, Monfort A, Trognon A,
    Econometrica 1984;52:701-720 (the mean is all that has to be right).
    Raises NotEstimable when nobody has a count above 0, when some mix of columns has none, or without convergence;
    ValueError for values that are no counts.
    """
    y, offset = _checked(outcome, exposure)
    made = _poisson(y, x, names, offset)
    mean = np.asarray(made.fittedvalues, dtype=np.float64)
    bread: FloatArray = np.asarray(np.linalg.inv((x * mean[:, None]).T @ x), dtype=np.float64)
    covariance, clusters, method = sandwich(
        bread=bread, scores=x * (y - mean)[:, None], cluster=cluster, correction=correction
    )
    return Fitted(
        kind="Poisson regression, log link",
        names=tuple(names),
        coefficients=np.asarray(made.params, dtype=np.float64),
        covariance=covariance,
        covariance_method=method,
        n=len(y),
        clusters=clusters,
        log_likelihood=float(made.llf),
        scale="ratio of means" if exposure is None else "rate ratio",
        extra={"total": float(y.sum()), "covariance_of_model": bread},
    )


def negative_binomial(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    exposure: npt.ArrayLike | None = None,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
) -> Fitted:
    """Fit log mean = x b (+ log exposure) with variance mean + alpha mean^2, by maximum likelihood.

    Arguments, errors and refusals as `poisson`; extra: alpha (of the scatter beyond Poisson) with its standard error.
    Lawless JF, Can J Stat 1987;15:209-225. Raises NotEstimable too when alpha runs to 0: no scatter beyond Poisson.
    """
    import statsmodels.api as sm

    y, offset = _checked(outcome, exposure)
    near = _poisson(y, x, names, offset)
    mean = np.asarray(near.fittedvalues, dtype=np.float64)
    alpha = max(float((((y - mean) ** 2 - y) / mean).sum() / mean.sum()), 0.05)  # by moments
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # non-convergence is looked for below
        try:
            model = sm.NegativeBinomial(y, x, loglike_method="nb2", offset=offset)
            start = np.append(near.params, alpha)
            made = model.fit(start_params=start, method="bfgs", maxiter=500, disp=0, gtol=1e-6)
            made = model.fit(start_params=made.params, method="newton", maxiter=MOST_STEPS, disp=0, tol=1e-10)
        except (np.linalg.LinAlgError, ValueError):
            made = None
        if made is None or not made.mle_retvals["converged"] or not made.params[-1] > 1e-6:
            raise NotEstimable(
                "The negative binomial model did not converge, as a rule because the counts scatter no more than "
                "Poisson ones. Use the Poisson model, whose errors are robust."
            )
        scores = np.asarray(model.score_obs(made.params), dtype=np.float64)
        bread = np.asarray(np.linalg.inv(-model.hessian(made.params)), dtype=np.float64)
    whole, clusters, method = sandwich(bread=bread, scores=scores, cluster=cluster, correction=correction)
    return Fitted(
        kind="negative binomial regression, log link, variance mean + alpha mean^2",
        names=tuple(names),
        coefficients=np.asarray(made.params[:-1], dtype=np.float64),
        covariance=whole[:-1, :-1],
        covariance_method=method,
        n=len(y),
        clusters=clusters,
        log_likelihood=float(made.llf),
        scale="ratio of means" if exposure is None else "rate ratio",
        extra={
            "total": float(y.sum()),
            "alpha": float(made.params[-1]),
            "alpha_standard_error": float(np.sqrt(bread[-1, -1])),
            "covariance_of_model": bread[:-1, :-1],
        },
    )


def dispersion(outcome: npt.ArrayLike, x: FloatArray, *, exposure: npt.ArrayLike | None = None) -> Dispersion:
    """Whether counts scatter more than a Poisson model of x lets them: Dean's score test against alpha mean^2.

    Dean CB, J Am Stat Assoc 1992;87:451-457 (P_B), as statsmodels has it. Rows are taken as independent.
    Raises as `poisson`.
    """
    from statsmodels.discrete.diagnostic import PoissonDiagnostic

    y, offset = _checked(outcome, exposure)
    made = _poisson(y, x, [f"column {at}" for at in range(x.shape[1])], offset)
    table = PoissonDiagnostic(made).test_dispersion()
    at = table.method.index("Dean B")
    spare = len(y) - x.shape[1]
    mean = np.asarray(made.fittedvalues, dtype=np.float64)
    return Dispersion(
        ratio=float(((y - mean) ** 2 / mean).sum() / spare) if spare > 0 else float("nan"),
        statistic=float(table.statistic[at]),
        p=float(table.pvalue[at]),
        test="Dean's score test of overdispersion",
        n=len(y),
    )


def sandwich(
    *, bread: FloatArray, scores: FloatArray, cluster: npt.ArrayLike | None, correction: Correction
) -> tuple[FloatArray, int | None, str]:
    """The sandwich over clusters, or over rows without: the covariance, how many clusters (None of rows), the name."""
    groups = np.arange(len(scores)) if cluster is None else cluster
    covariance, many = cluster_covariance(bread=bread, scores=scores, cluster=groups, correction=correction)
    said = CORRECTIONS[correction]
    if cluster is None:
        return covariance, None, EACH_ROW + said.removeprefix("cluster-robust, ")
    return covariance, many, said


def _checked(outcome: npt.ArrayLike, exposure: npt.ArrayLike | None) -> tuple[FloatArray, FloatArray | None]:
    y = np.asarray(outcome, dtype=np.float64)
    if y.ndim != 1 or not np.isfinite(y).all() or (y < 0).any() or (y != np.round(y)).any():
        raise ValueError("outcome must be whole counts of 0 or more, none missing.")
    if not len(y) or not y.any():
        what = "there is no row" if not len(y) else f"all {len(y):,} counts are 0"
        raise NotEstimable(f"No effect on the count can be estimated: {what}. Ask of other rows or another outcome.")
    if exposure is None:
        return y, None
    given = np.asarray(exposure, dtype=np.float64)
    if given.shape != y.shape or not (np.isfinite(given) & (given > 0)).all():
        raise ValueError("exposure must be a number above 0 for every row.")
    return y, np.log(given)


def _poisson(y: FloatArray, x: FloatArray, names: Sequence[str], offset: FloatArray | None) -> Any:
    import statsmodels.api as sm

    refuse_dependent(x, names)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # non-convergence is looked for below
        try:
            model = sm.GLM(y, x, family=sm.families.Poisson(), offset=offset)
            made = model.fit(maxiter=MOST_STEPS, tol=1e-12, rtol=1e-13, tol_criterion="deviance")
        except (np.linalg.LinAlgError, ValueError):
            made = None
    small = made is not None and float(np.min(made.fittedvalues)) < 1e-6
    if made is None or not made.converged or small:
        apart = _without_any(y, x, names)
        if apart:
            raise NotEstimable(
                f"Every count is 0 at some value of {', '.join(apart)}, so that its ratio has no finite estimate. "
                "Join levels, leave the term out, or compare by an exact test."
            )
        if made is None or not made.converged:
            raise NotEstimable(
                f"The Poisson model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer "
                "terms, or columns on scales that are more alike."
            )
    return made


def _without_any(y: FloatArray, x: FloatArray, names: Sequence[str]) -> list[str]:
    """Columns along which the likelihood only rises: their mix is 0 where there are counts, never above 0 elsewhere.

    Santos Silva JMC, Tenreyro S, Econ Lett 2010;107:310-312 [from memory].
    """
    from scipy.optimize import linprog

    length = np.abs(x).max(axis=0)
    scaled = x / np.where(length > 0, length, 1.0)
    some = np.unique(np.round(scaled[y > 0], 12), axis=0)
    none = np.unique(np.round(scaled[y == 0], 12), axis=0)
    if not len(none):
        return []
    found = linprog(
        none.sum(axis=0),
        A_ub=none,
        b_ub=np.zeros(len(none)),
        A_eq=some,
        b_eq=np.zeros(len(some)),
        bounds=(-1.0, 1.0),
        method="highs",
    )
    if found.x is None or found.fun >= -1e-7 * len(none):
        return []
    return [name for name, value in zip(names, found.x, strict=True) if abs(value) > 1e-7]
