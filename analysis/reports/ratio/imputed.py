"""A model whose missing covariates are imputed: one fit for each completed data set, combined by Rubin's rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.estimators.chained_equations import Imputations, Kind, chained_equations
from analysis.estimators.pooled_regression import PooledFit, enough_imputations, pooled_fit
from analysis.estimators.regression.fitted import NotEstimable
from analysis.reports.ratio.fitting import CLUSTER_COLUMN, Made, fitted
from analysis.reports.ratio.model_file import Model
from analysis.reports.ratio.rows import Rows
from analysis.reports.sections.report import Column, Section
from registry.schema.errors import GravelbookError


@dataclass(frozen=True, eq=False)
class Imputed:
    """drawn: the imputations. each: the model fitted to each completed data set. pooled: all of them together."""

    drawn: Imputations
    each: tuple[Made, ...]
    pooled: PooledFit


def imputed_model(model: Model, rows: Rows, frame: pd.DataFrame) -> tuple[Made, Imputed | None]:
    """Fit a model to every imputed data set.

    frame: rows with outcome and exposure known. The outcome takes part in the imputation, as do the exposure, all
    adjusters and the cluster's operator or site. The fit handed back has the pooled coefficients and covariance.
    Without anything to impute it is the plain fit, and None.
    Raises GravelbookError where imputation or a fit is refused.
    """
    if model.fit != "likelihood":
        raise GravelbookError(
            f'{model.place}: imputed covariates go with method = "likelihood" under [fit]; profile limits cannot be '
            "combined over imputations."
        )
    columns = [term.column for term in model.terms]
    if not frame[columns].isna().to_numpy().any():
        return fitted(model, rows, frame), None
    by = CLUSTER_COLUMN.get(model.cluster_by)
    kinds = _kinds(frame, [*columns, *([by] if by in ("operator", "site") and frame[by].nunique() > 1 else [])])
    try:
        ready = _plain(frame, kinds)
        drawn = chained_equations(
            ready, {"outcome": "numeric", **kinds}, seed=model.seed, imputations=model.imputations
        )
        each = tuple(
            fitted(model, rows, _back(frame, drawn.completed(number), columns), thin=number > 0)
            for number in range(drawn.imputations)
        )
        pooled = pooled_fit([one.fit for one in each])
    except (NotEstimable, ValueError) as fault:
        raise GravelbookError(f"{model.place}: {fault}") from None
    first = each[0]
    fit = replace(
        first.fit,
        coefficients=pooled.coefficients,
        covariance=pooled.covariance,
        covariance_method=f"{first.fit.covariance_method}; {pooled.method} over {len(each)} imputations",
    )
    return replace(first, fit=fit, imputed=each, pooled=pooled), Imputed(drawn, each, pooled)


def missing_section(made: Made, held: Imputed) -> Section:
    """What lacked, and whether the imputations were enough."""
    found = held.drawn.missing
    rows: list[dict[str, Any]] = [
        {
            "what": f"{one.column} missing",
            "how": held.drawn.how.get(one.column, "nothing to impute"),
            "n": found.rows,
            "unknown": one.missing,
            "estimate": one.share,
            "low": None,
            "high": None,
        }
        for one in found.columns
        if one.missing
    ]
    for pattern in found.patterns[:10]:
        said = f"lacking {' and '.join(pattern.lacking)}" if pattern.lacking else "lacking nothing"
        rows.append(
            {
                "what": f"pattern: {said}",
                "how": None,
                "n": found.rows,
                "unknown": pattern.rows,
                "estimate": pattern.share,
                "low": None,
                "high": None,
            }
        )
    enough = enough_imputations(held.pooled, _slopes(made))
    verdict = "enough" if enough.enough else f"NOT ENOUGH: write imputations = {enough.needed} under [missing]"
    return Section(
        name="missing",
        title="What lacked, and how it was imputed",
        rows=rows,
        columns=(
            Column("", "what"),
            Column("imputed by", "how"),
            Column("rows", "unknown", "count"),
            Column("share", "estimate", "percent", free=True),
        ),
        definition={
            "method": held.drawn.method,
            "imputations": held.drawn.imputations,
            "needed": enough.needed,
            "cycles": held.drawn.cycles,
            "donors": held.drawn.donors,
            "seed": held.drawn.seed,
            "largest_fraction_of_missing_information": enough.largest_fraction,
            "chains": [{"column": one.column, "rhat": one.rhat, "drift": one.drift} for one in held.drawn.traces],
        },
        notes=(
            f"{held.drawn.imputations} imputations, seed {held.drawn.seed}; {enough.needed} keep standard errors of "
            f"the exposure within a twentieth from one seed to the next: {verdict}. The largest fraction of missing "
            f"information is {enough.largest_fraction:.2f}.",
            "Right where what lacks depends on nothing but the columns of the model, which data cannot show.",
            *held.drawn.remarks,
        ),
    )


def _slopes(made: Made) -> list[int]:
    from analysis.estimators.regression.ordinal import slope_places

    return [int(at) for at in slope_places(made.fit, made.places)] if made.ordered is not None else made.places


def _kinds(frame: pd.DataFrame, columns: Sequence[str]) -> dict[str, Kind]:
    kinds: dict[str, Kind] = {}
    for name in dict.fromkeys(columns):
        column = cohort_columns()[name]
        if column.holds in ("whole", "number"):
            kinds[name] = "numeric"
        else:
            kinds[name] = "binary" if frame[name].nunique() <= 2 else "categorical"
    return kinds


def _plain(frame: pd.DataFrame, kinds: dict[str, Kind]) -> pd.DataFrame:
    """Numbers as floats, codes as categories of what occurs."""
    made: dict[str, Any] = {"outcome": frame["outcome"].to_numpy(dtype=np.float64)}
    for name, kind in kinds.items():
        if kind == "numeric":
            made[name] = frame[name].to_numpy(dtype=np.float64, na_value=np.nan)
            continue
        words = frame[name].astype(object)
        made[name] = pd.Categorical(words.where(words.notna(), None), categories=_order(frame[name]))
    return pd.DataFrame(made)


def _order(values: pd.Series) -> list[str]:
    met = set(values.dropna().astype(str))
    order = list(values.cat.categories) if isinstance(values.dtype, pd.CategoricalDtype) else sorted(met)
    return [str(each) for each in order if str(each) in met]


def _back(frame: pd.DataFrame, completed: pd.DataFrame, columns: Sequence[str]) -> pd.DataFrame:
    return frame.assign(**{name: completed[name].array for name in dict.fromkeys(columns)})
