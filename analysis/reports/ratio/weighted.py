"""The model weighted by how likely each row's outcome was to become known: one answer to those never looked at."""

from __future__ import annotations

import numpy as np
import pandas as pd

from analysis.design.errors import DesignError
from analysis.design.matrix import design_of
from analysis.estimators.regression.checks.weighted_fit import weighted_logistic
from analysis.estimators.regression.clustering import cluster_covariance
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.logistic import logistic
from analysis.reports.ratio.fitting import CLUSTER_COLUMN, Made

METHOD = (
    "Seaman SR, White IR, Stat Methods Med Res 2013;22:278-295 (from memory); the chance by logistic regression on the "
    "model's own terms, weights cut at their 99th percentile and taken as known"
)
CUT = 0.99


def weighted_by_known(made: Made) -> Made:
    """The model of a yes/no outcome, each row weighted by 1 over the chance that its outcome is known.

    The chance depends on the model's terms alone: where it depends on the outcome itself, the weights do not mend it.
    Raises NotEstimable when all are known, when the chance cannot be modelled, or when the weighted fit fails.
    """
    from dataclasses import replace

    rows = made.rows.frame
    eligible = rows[((rows["exposure_state"] == "known") & rows["lower"].notna()).to_numpy(dtype=bool)]
    by = CLUSTER_COLUMN.get(made.model.cluster_by, "study_number")
    try:
        whole = design_of(
            eligible, made.design.terms, outcome="known", interactions=made.model.interactions, needed=[by]
        )
    except DesignError as fault:
        raise NotEstimable(str(fault)) from None
    held = eligible.iloc[whole.rows]
    known = held["outcome"].notna().to_numpy(dtype=bool)
    if known.all():
        raise NotEstimable("every outcome is known")
    chances = _chances(known, whole.x, whole.names)
    weight = 1 / chances[known]
    weight = np.minimum(weight, np.quantile(weight, CUT))
    weight *= known.sum() / weight.sum()
    frame: pd.DataFrame = held[known].reset_index(drop=True)
    y, x = frame["outcome"].to_numpy(dtype=np.float64), whole.x[known]
    b = weighted_logistic(y, x, weight)
    if b is None:
        raise NotEstimable("the weighted model has no finite maximum")
    chance = 1 / (1 + np.exp(-(x @ b)))
    bread: FloatArray = np.asarray(
        np.linalg.inv((x * (weight * chance * (1 - chance))[:, None]).T @ x), dtype=np.float64
    )
    cluster = frame[by].astype(str).to_numpy(dtype=object)
    covariance, many = cluster_covariance(bread=bread, scores=x * (weight * (y - chance))[:, None], cluster=cluster)
    fit = Fitted(
        kind="logistic regression, weighted by the chance that the outcome is known",
        names=whole.names,
        coefficients=b,
        covariance=covariance,
        covariance_method="cluster-robust, times G/(G-1), weights taken as known",
        n=len(y),
        events=int(y.sum()),
        clusters=many,
    )
    model = replace(made.model, fit="likelihood")
    return replace(made, model=model, frame=frame, design=whole, y=y, cluster=cluster, fit=fit)


def _chances(known: np.ndarray[tuple[int], np.dtype[np.bool_]], x: FloatArray, names: tuple[str, ...]) -> FloatArray:
    fit = logistic(known.astype(np.float64), x, names, events_per_parameter=0)
    made: FloatArray = 1 / (1 + np.exp(-(x @ fit.coefficients)))
    return made
