"""All that a reader has to know of a logistic model before its estimates, in one record; made without being asked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from analysis.design.matrix import Design
from analysis.estimators.calibration import Calibration, calibration
from analysis.estimators.discrimination import Area, auc
from analysis.estimators.regression.checks.clustered_area import ClusteredArea, clustered_area
from analysis.estimators.regression.checks.collinearity import Inflation, variance_inflation
from analysis.estimators.regression.checks.curve import CalibrationCurve, calibration_curve
from analysis.estimators.regression.checks.influence import Influence, Refit, influence
from analysis.estimators.regression.checks.optimism import Optimism, optimism
from analysis.estimators.regression.checks.overdispersion import WithinClusters, within_clusters
from analysis.estimators.regression.firth import firth
from analysis.estimators.regression.fitted import Fitted, FloatArray
from analysis.estimators.regression.logistic import logistic

MOST_ROWS_DRAWN = 4_000_000


@dataclass(frozen=True, kw_only=True)
class ModelChecks:
    """All on the rows that made the model, but optimism: what is left on others.

    discrimination; discrimination_clustered, None without clusters; calibration; curve; influence; collinearity, one
    entry a term; overdispersion, None without clusters. exposure: the term looked at.
    """

    discrimination: Area
    discrimination_clustered: ClusteredArea | None
    calibration: Calibration
    optimism: Optimism
    curve: CalibrationCurve
    influence: Influence
    collinearity: tuple[Inflation, ...]
    overdispersion: WithinClusters | None
    exposure: str | None
    remarks: tuple[str, ...]


def model_checks(
    fit: Fitted,
    design: Design,
    outcome: npt.ArrayLike,
    *,
    cluster: npt.ArrayLike | None = None,
    exposure: str | None = None,
    replicates: int | None = None,
    seed: int = 1,
    workers: int = 1,
    level: float = 0.95,
) -> ModelChecks:
    """Check a logistic model against the rows that made it.

    fit: of `logistic` or `firth` (another kind is resampled and refitted as a plain logistic model, with a remark).
    outcome, cluster: of the design's rows, shape (rows of design.x,). exposure: the term whose estimate is refitted
    without the cluster that moves it most. replicates: resamples of whole clusters for the optimism; by default 200,
    fewer (at least 50) above 20,000 rows, where there is next to none. Raises ValueError for lengths that differ or a
    term that the design lacks.
    """
    y, x = np.asarray(outcome, dtype=np.float64), design.x
    if y.shape != (len(x),):
        raise ValueError(f"outcome has {len(y):,} entries, the design {len(x):,} rows; give those of design.rows.")
    terms = _terms(design)
    if exposure is not None and exposure not in terms:
        raise ValueError(f"The design has no term {exposure!r}; it has {', '.join(terms)}.")
    places = [] if exposure is None else [int(at) for at in terms[exposure]]
    along = np.clip(x @ fit.coefficients, -30, 30)
    chance = 1 / (1 + np.exp(-along))
    penalised = "Firth" in fit.kind
    labels = [column.label for column in design.columns]
    remarks = []
    refit = _refit(y, x, design.names, cluster, penalised)
    if not (penalised or fit.kind.startswith("logistic regression")):
        remarks.append(f"the model is {fit.kind}; resamples are fitted by plain logistic regression")
    many = max(50, min(200, MOST_ROWS_DRAWN // max(len(y), 1))) if replicates is None else replicates
    return ModelChecks(
        discrimination=auc(y, along, level),
        discrimination_clustered=None if cluster is None else clustered_area(y, along, cluster, level=level),
        calibration=calibration(y, chance, level),
        optimism=optimism(y, x, cluster=cluster, replicates=many, seed=seed, workers=workers, penalised=penalised),
        curve=calibration_curve(y, chance, level=level),
        influence=influence(fit, y, x, cluster=cluster, exposure=places, refit=refit, labels=labels, level=level),
        collinearity=variance_inflation(x, terms, weight=chance * (1 - chance)),
        overdispersion=None if cluster is None else within_clusters(fit, y, x, cluster, places=places),
        exposure=exposure,
        remarks=tuple(remarks),
    )


def _terms(design: Design) -> Mapping[str, npt.NDArray[np.int64]]:
    names = dict.fromkeys(column.term for column in design.columns if column.term)
    return {name: design.places(name) for name in names}


def _refit(
    y: FloatArray, x: FloatArray, names: tuple[str, ...], cluster: npt.ArrayLike | None, penalised: bool
) -> Refit:
    def anew(kept: npt.NDArray[np.bool_]) -> Fitted:
        if penalised:
            return firth(y[kept], x[kept], names)
        groups = None if cluster is None else np.asarray(cluster)[kept]
        return logistic(y[kept], x[kept], names, cluster=groups, events_per_parameter=0)

    return anew
