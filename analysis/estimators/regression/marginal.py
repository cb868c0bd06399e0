"""Generalised estimating equations: effects over the population, rows of one cluster alike."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt

from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import check_outcome, refuse_separated

Family = Literal["binomial", "gaussian"]


def estimating_equations(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    cluster: npt.ArrayLike,
    *,
    family: Family = "binomial",
    bias_reduced: bool = False,
) -> Fitted:
    """Fit with an exchangeable working correlation, errors from the sandwich.

    outcome: shape (rows,), 0 or 1 for `binomial`. cluster: shape (rows,). bias_reduced: errors after Mancl LA, DeRouen
    TA, Biometrics 2001;57:126-134, for few clusters. Liang KY, Zeger SL, Biometrika 1986;73:13-22, as statsmodels has
    it. Raises NotEstimable when the outcome has one level, is separated, or the equations are not solved.
    """
    import statsmodels.api as sm

    y = np.asarray(outcome, dtype=np.float64)
    events = None
    if family == "binomial":
        events, _ = check_outcome(y)
        refuse_separated(y, x, names)
    _, code = np.unique(np.asarray(cluster), return_inverse=True)
    order = np.argsort(code, kind="stable")
    of = sm.families.Binomial() if family == "binomial" else sm.families.Gaussian()
    kind = "bias_reduced" if bias_reduced else "robust"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # non-convergence is looked for below
        working = sm.cov_struct.Exchangeable()
        model = sm.GEE(y[order], x[order], groups=code[order], family=of, cov_struct=working)
        made = model.fit(maxiter=200, ctol=1e-9, cov_type=kind)
    if not made.converged or not np.isfinite(made.params).all():
        raise NotEstimable(
            "The estimating equations were not solved in 200 steps, so that no number is given. Use fewer terms, or "
            "the model with cluster-robust errors."
        )
    return Fitted(
        kind=f"generalised estimating equations, {family}, exchangeable correlation",
        names=tuple(names),
        coefficients=np.asarray(made.params, dtype=np.float64),
        covariance=np.asarray(made.cov_params(), dtype=np.float64),
        covariance_method="sandwich, bias reduced (Mancl and DeRouen)" if bias_reduced else "sandwich",
        n=len(y),
        events=events,
        clusters=int(code.max()) + 1,
        scale="odds ratio" if family == "binomial" else "difference",
        extra={"correlation_within": float(working.dep_params)},
    )
