"""Logistic regression by maximum likelihood, refused where no maximum exists."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.design.one_thread import one_thread
from analysis.estimators.regression.clustering import CORRECTIONS, Correction, cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.separation import separating

FAR = 12.0
"""Log odds from which a fitted chance is so near 0 or 1 that separation is looked for."""
MOST_STEPS = 50


def logistic(
    outcome: npt.ArrayLike,
    x: FloatArray,
    names: Sequence[str],
    *,
    cluster: npt.ArrayLike | None = None,
    correction: Correction = "CR1",
    events_per_parameter: float = 10.0,
    force: bool = False,
) -> Fitted:
    """Fit log odds of the outcome as a sum of the columns.

    outcome: 0 or 1, shape (rows,), without gaps. x: shape (rows, p), the intercept among the columns. cluster: shape
    (rows,), None for the model's own covariance. events_per_parameter: the rarer outcome has to number at least this
    many for each parameter besides the intercept, else the model is refused (Peduzzi P et al, J Clin Epidemiol
    1996;49:1373-1379 for ten, from memory; later work finds the number arbitrary, so that it can be set). force: fit
    all the same, with a remark.

    Raises NotEstimable, with the reason, when the outcome has one level, when the data cannot carry that many
    parameters, when it is separated, or when the search does not converge.
    """
    y = np.asarray(outcome, dtype=np.float64)
    events, rarer = check_outcome(y)
    parameters = x.shape[1] - 1
    remarks = _carried(rarer, parameters, events_per_parameter, force=force)
    with one_thread():
        made = _maximum(y, x, names)
        try:
            bread = np.asarray(np.linalg.inv(-made.model.hessian(made.params)))
        except np.linalg.LinAlgError:
            raise NotEstimable(
                "Some columns of the model say the same as others, so that their effects cannot be told apart. Leave "
                "one of them out."
            ) from None
        covariance, clusters, method = bread, None, "from the model (inverse information)"
        if cluster is not None:
            scores = np.asarray(made.model.score_obs(made.params))
            covariance, clusters = cluster_covariance(
                bread=bread, scores=scores, cluster=cluster, correction=correction
            )
            method = CORRECTIONS[correction]
        log_likelihood = float(made.llf)
    share = events / len(y)
    return Fitted(
        kind="logistic regression, maximum likelihood",
        names=tuple(names),
        coefficients=np.asarray(made.params, dtype=np.float64),
        covariance=covariance,
        covariance_method=method,
        n=len(y),
        events=events,
        clusters=clusters,
        log_likelihood=log_likelihood,
        remarks=remarks,
        extra={
            "log_likelihood_alone": events * math.log(share) + (len(y) - events) * math.log1p(-share),
            "events_per_parameter": rarer / max(parameters, 1),
        },
    )


def _maximum(y: FloatArray, x: FloatArray, names: Sequence[str]) -> Any:
    """The library's result at the maximum, or NotEstimable."""
    import statsmodels.api as sm

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # separation and non-convergence are looked for below, and named
        try:
            model = sm.Logit(y, x, check_rank=False)  # it is asked only for degrees of freedom, which are not used
            made = model.fit(
                method="newton", maxiter=MOST_STEPS, disp=0, tol=1e-10, skip_hessian=True, callback=_nothing
            )
        except np.linalg.LinAlgError:
            made = None
    if made is None or not made.mle_retvals["converged"] or np.abs(x @ made.params).max() > FAR:
        refuse_separated(y, x, names)
        if made is None or not made.mle_retvals["converged"]:
            raise NotEstimable(
                f"The logistic model did not converge in {MOST_STEPS} steps, so that no number is given. Use fewer "
                "terms, or columns on scales that are more alike."
            )
    return made


def _nothing(_: FloatArray) -> None:
    """In place of the library's own look for separation at every step."""


def check_outcome(y: FloatArray) -> tuple[int, int]:
    """How many had it, and how many of the rarer kind. Raises NotEstimable when all are alike."""
    events = int(y.sum())
    if not len(y) or events in (0, len(y)):
        what = "there is no row" if not len(y) else f"all {len(y):,} rows have the same outcome"
        raise NotEstimable(f"No effect on the outcome can be estimated: {what}. Ask of other rows or another outcome.")
    return events, min(events, len(y) - events)


def refuse_separated(y: FloatArray, x: FloatArray, names: Sequence[str]) -> None:
    """Raise NotEstimable when some combination of the columns tells the outcome without fail."""
    apart = separating(y, x, names)
    if apart:
        raise NotEstimable(
            f"The outcome is separated by {', '.join(apart)}: at some value of it everybody, or nobody, has the "
            "outcome, so that the likelihood has no maximum and an ordinary model would print numbers without meaning. "
            'Use the penalised model (fit = "firth"), an exact test, or leave the term out.'
        )


def _carried(rarer: int, parameters: int, wanted: float, *, force: bool) -> tuple[str, ...]:
    carried = int(rarer / wanted) if wanted > 0 else parameters
    if parameters <= carried:
        return ()
    said = (
        f"{parameters} parameters are asked of {rarer:,} of the rarer outcome, {rarer / max(parameters, 1):.1f} for "
        f"each; at {wanted:g} for each the data carry {carried}"
    )
    if force:
        return (f"{said}: read the estimates with that in mind.",)
    raise NotEstimable(
        f"The model has more parameters than the data carry: {said}. Leave terms out, use the penalised model (fit = "
        '"firth"), or set events_per_parameter to another number that you can defend.'
    )
