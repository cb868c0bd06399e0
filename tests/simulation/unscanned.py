"""Weighted and imputed rates of the cohorts of a task, by the code that the command uses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import Tables
from analysis.outcomes.size_classes import CLASS_THRESHOLDS, possible_classes, unit_parts
from analysis.reports.request.grouping import everyone
from analysis.reports.stone_free.imputed import imputed_classes, imputed_rows
from analysis.reports.stone_free.packed import Packed
from analysis.reports.stone_free.rates import stone_free_rates
from analysis.reports.stone_free.unscanned_covariates import covariates_of
from analysis.reports.stone_free.weighted import weighted, weighted_rows

KNOWN_AS = {"age": "age_years", "burden_mm": "cumulative_mm", "female": "sex"}
"""What the models look for under another name than the generator's."""
CLASSES = [one.code for one in CLASS_THRESHOLDS]


def modelled(
    tables: Tables,
    units: Packed,
    definition: Definition,
    cohort: np.ndarray,
    cohorts: int,
    *,
    apart: int,
    replicates: int,
    level: float,
) -> pd.DataFrame:
    """weighted, imputed, n_weighted and their limits, one row a cohort and threshold; NaN where there is no rate.

    cohort: the number of each unit's cohort. apart: how far apart the identifiers of cohorts lie.
    replicates: resamples of a cohort, 0 for no limits of weighted. Every cohort has a
    model of its own.
    """
    parts = unit_parts(tables, definition)
    sides = tables.sides.rename(columns=KNOWN_AS)
    of_part, of_side = (frame.to_numpy() // apart for frame in (parts["unit_id"], sides["side_id"]))
    rows = []
    for at in range(cohorts):
        own, own_parts, own_sides = _of(units, cohort == at), parts[of_part == at], sides[of_side == at]
        weights = _weighted(own, own_parts, own_sides, replicates, level)
        draws = _imputed(own, own_parts, own_sides, level)
        rows += [weight | draw for weight, draw in zip(weights, draws, strict=True)]
    return pd.DataFrame(rows)


def _of(units: Packed, mark: np.ndarray) -> Packed:
    """The units of one cohort."""
    names = ("unit_id", "patient", "operation_id", "side_id", "pattern")
    return replace(units, **{name: getattr(units, name)[mark] for name in names})


def _weighted(
    units: Packed, parts: pd.DataFrame, sides: pd.DataFrame, replicates: int, level: float
) -> list[dict[str, float]]:
    """One record a threshold."""
    group, known = everyone(units.units), covariates_of(units.side_id, sides)
    found = weighted(units, group, parts, known, seed=1, replicates=replicates, level=level)
    rows = weighted_rows(stone_free_rates(units, group), found, units, group)
    rows = rows.rename(columns={"rate": "weighted", "n": "n_weighted"})
    rows = rows.rename(columns={limit: f"{limit}_weighted_bootstrap" for limit in ("low", "high")})
    shown = ["threshold", "weighted", "n_weighted", "low_weighted_bootstrap", "high_weighted_bootstrap"]
    return rows[shown].to_dict("records")


def _imputed(units: Packed, parts: pd.DataFrame, sides: pd.DataFrame, level: float) -> list[dict[str, float]]:
    """One record a threshold, empty for those that size classes do not answer."""
    known = covariates_of(possible_classes(parts)["side_id"].to_numpy(), sides)
    found = imputed_classes(units, parts, known, imputations=20, seed=1)
    base = stone_free_rates(units, everyone(units.units), unscanned=("lower",), level=level)
    answered = base[base["threshold"].isin(CLASSES)].reset_index(drop=True)
    rows = imputed_rows(answered, found, units, everyone(units.units), level).set_index("threshold")
    return [
        {
            "imputed": rows["rate"][one.code],
            "low_imputed_clustered": rows["low_clustered"][one.code],
            "high_imputed_clustered": rows["high_clustered"][one.code],
        }
        if one.code in CLASSES
        else {}
        for one in units.thresholds
    ]
