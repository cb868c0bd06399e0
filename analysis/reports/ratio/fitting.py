"""A model fitted to the rows that have all it needs, by the method that its outcome and its file ask for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.design.errors import DesignError
from analysis.design.matrix import Design, design_of
from analysis.design.terms import Interaction, Term
from analysis.estimators.pooled_regression import PooledFit
from analysis.estimators.regression.counts import Dispersion
from analysis.estimators.regression.fitted import Fitted, FloatArray, NotEstimable
from analysis.estimators.regression.proportionality import Ordered
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.rows import KNOWN, Rows
from registry.schema.errors import GravelbookError

CLUSTER_COLUMN = {"patient": "study_number", "operator": "operator", "site": "site"}
FEW_CLUSTERS = 40


@dataclass(frozen=True, eq=False, kw_only=True)
class Made:
    """A fitted model. frame: its rows, in the design's order. y: the outcome of each. cluster: its label of each, or
    None. ordered: the tests and the partial model of an ordered outcome; levels: those of it that occur. dispersion:
    of a count.
    imputed: the model of each completed data set, pooled: all together; `fit` then has their pooled coefficients.
    remarks: what a reader has to know.
    """

    model: Model
    rows: Rows
    frame: pd.DataFrame
    design: Design
    y: FloatArray
    cluster: npt.NDArray[np.object_] | None
    fit: Fitted
    ordered: Ordered | None = None
    dispersion: Dispersion | None = None
    levels: tuple[str, ...] = ()
    imputed: tuple[Made, ...] = ()
    pooled: PooledFit | None = None
    remarks: tuple[str, ...] = ()

    @property
    def exposure(self) -> Term:
        return self.model.exposure

    @property
    def places(self) -> list[int]:
        """Where the exposure's own columns stand in the design."""
        return [int(at) for at in self.design.places(self.exposure.column)]

    @property
    def n(self) -> int:
        return len(self.y)

    @property
    def events(self) -> int | None:
        return int(self.y.sum()) if self.rows.kind == "yes_no" else None


def outcome_known(rows: Rows) -> pd.DataFrame:
    """The rows whose outcome and exposure are known."""
    frame = rows.frame
    held = (frame["outcome_state"] == KNOWN) & (frame["exposure_state"] == "known")
    return frame[held.to_numpy(dtype=bool)].reset_index(drop=True)


def fitted(
    model: Model,
    rows: Rows,
    frame: pd.DataFrame,
    *,
    terms: Sequence[Term] | None = None,
    interactions: Sequence[Interaction] | None = None,
    thin: bool = False,
) -> Made:
    """Fit a model.

    frame: rows with outcome and exposure known. terms: the model's own unless given. thin: events per parameter are
    looked at by another fit already, so that a smaller one is not refused for them.
    Raises GravelbookError, one paragraph, for what the design or the estimator refuses.
    """
    used = tuple(model.terms if terms is None else terms)
    products = tuple(model.interactions if interactions is None else interactions)
    by = CLUSTER_COLUMN.get(model.cluster_by)
    try:
        design = design_of(frame, used, outcome=model.outcome, interactions=products, needed=[by] if by else [])
        held = frame.iloc[design.rows].reset_index(drop=True)
        _refuse_knots_in_one_place(model, design, held)
        cluster = held[by].astype(str).to_numpy(dtype=object) if by else None
        made = Made(
            model=model,
            rows=rows,
            frame=held,
            design=design,
            y=held["outcome"].to_numpy(dtype=np.float64),
            cluster=cluster,
            fit=_EMPTY,
        )
        return _estimated(made, 0.0 if thin else model.events_per_parameter)
    except (DesignError, NotEstimable) as fault:
        raise GravelbookError(f"{model.place}: {fault}") from None


def _refuse_knots_in_one_place(model: Model, design: Design, held: pd.DataFrame) -> None:
    """Refuse a spline of the exposure whose knots stand by one observed value: quantiles of a few values fall between
    two of them, a little apart, and would let a curve bend where there is nothing to bend by."""
    column = model.exposure.column
    knots = design.knots.get(column)
    if knots is None:
        return
    values = np.unique(held[column].to_numpy(dtype=np.float64))
    nearest = [float(values[np.argmin(np.abs(values - knot))]) for knot in knots]
    if len(set(nearest)) < len(nearest):
        shown = ", ".join(f"{knot:.4g}" for knot in knots)
        raise NotEstimable(
            f"A spline of {column} with {len(knots)} knots would have two of them in one place ({shown}, of the "
            f"{len(values)} values observed): too many rows share one value. Take fewer knots, or take it as linear or "
            "in categories."
        )


def _estimated(made: Made, wanted: float) -> Made:
    _enough_clusters(made)
    kind = made.rows.kind
    if kind == "yes_no":
        return _with(made, _yes_no(made, wanted))
    if made.model.fit == "firth":
        raise NotEstimable(
            'The penalised model is one of a yes/no outcome; write method = "likelihood" under [fit] for this one.'
        )
    if made.model.cluster_method != "robust" and not (kind == "linear" and made.model.cluster_method == "equations"):
        raise NotEstimable(
            f'Clustering by "{made.model.cluster_method}" is there for yes/no outcomes'
            f'{" and equations for linear ones" if kind == "linear" else ""}; write method = "robust" under [cluster].'
        )
    if kind == "ordered":
        return _ordered(made, wanted)
    if kind == "count":
        return _counted(made)
    return _with(made, _quantity(made))


def _counted(made: Made) -> Made:
    from dataclasses import replace

    from analysis.estimators.regression.counts import counts

    found = counts(made.y, made.design.x, made.design.names, cluster=made.cluster)
    whole = _with(made, found.fit)
    return replace(whole, dispersion=found.dispersion, remarks=(*whole.remarks, found.reason))


def _yes_no(made: Made, wanted: float) -> Fitted:
    from analysis.estimators.regression.firth import firth
    from analysis.estimators.regression.logistic import logistic
    from analysis.estimators.regression.marginal import estimating_equations
    from analysis.estimators.regression.random_intercept import random_intercept_logistic

    y, x, names, model = made.y, made.design.x, made.design.names, made.model
    if model.fit == "firth":
        return firth(y, x, names)
    # What the data can carry, and separation, are looked at alike for every method.
    plain = logistic(y, x, names, cluster=made.cluster, events_per_parameter=wanted)
    if made.cluster is None or model.cluster_method == "robust":
        return plain
    if model.cluster_method == "equations":
        return estimating_equations(y, x, names, made.cluster)
    with np.errstate(over="ignore"):  # a step that goes too far is taken back by the search
        return random_intercept_logistic(y, x, names, made.cluster)


def _ordered(made: Made, wanted: float) -> Made:
    from dataclasses import replace

    from analysis.estimators.regression.proportionality import ordered_model

    met = [level for at, level in enumerate(made.rows.levels) if (made.y == at).any()]
    code = {made.rows.levels.index(level): at for at, level in enumerate(met)}
    y = np.array([code[int(value)] for value in made.y], dtype=np.int64)
    terms = {term.column: made.design.places(term.column) for term in made.design.terms}
    found = ordered_model(
        y,
        made.design.x,
        made.design.names,
        levels=met,
        terms=terms,
        cluster=made.cluster,
        events_per_parameter=wanted,
    )
    return replace(made, fit=found.proportional, ordered=found, levels=tuple(met), remarks=_remarks(made))


def _quantity(made: Made) -> Fitted:
    from analysis.estimators.regression.linear import linear
    from analysis.estimators.regression.marginal import estimating_equations
    from analysis.estimators.regression.skewed import gamma_log

    y, x, names = made.y, made.design.x, made.design.names
    if made.rows.kind == "skewed":
        return gamma_log(y, x, names, cluster=made.cluster)
    if made.cluster is not None and made.model.cluster_method == "equations":
        return estimating_equations(y, x, names, made.cluster, family="gaussian")
    return linear(y, x, names, cluster=made.cluster)


def _enough_clusters(made: Made) -> None:
    if made.cluster is None or made.model.fit == "firth":
        return
    many = len(np.unique(made.cluster))
    if many < 2:
        raise NotEstimable(
            f"All {made.n:,} rows are of one {made.model.cluster_by}, so that errors cannot allow for clusters of it. "
            'Write by = "patient" or by = "none" under [cluster].'
        )
    if many <= len(made.places):
        raise NotEstimable(
            f"There are {many} clusters ({made.model.cluster_by}) for {len(made.places)} columns of the exposure, and "
            "errors that allow for clusters need more. Cluster by patient, or take the exposure as linear."
        )


def _with(made: Made, fit: Fitted) -> Made:
    from dataclasses import replace

    return replace(made, fit=fit, remarks=(*fit.remarks, *_remarks(made)))


def _remarks(made: Made) -> tuple[str, ...]:
    if made.cluster is None:
        return ()
    if made.model.fit == "firth":
        return (f"Firth's limits take rows as independent: they do not allow for clusters ({made.model.cluster_by}).",)
    many = len(np.unique(made.cluster))
    if made.model.cluster_method != "mixed" and many < FEW_CLUSTERS:
        return (
            f"There are {many} clusters; below about {FEW_CLUSTERS} robust errors come out too small (Cameron AC, "
            "Miller DL, J Hum Resour 2015;50:317-372).",
        )
    return ()


_EMPTY = Fitted(
    kind="none",
    names=(),
    coefficients=np.zeros(0),
    covariance=np.zeros((0, 0)),
    covariance_method="none",
    n=0,
)
