"""Rows of rates by weighting: those adequately studied stand for all that are eligible."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.weighting import WeightedProportions, several_weighted_proportions
from analysis.reports.request.grouping import Grouping
from analysis.reports.stone_free.modelled import with_records
from analysis.reports.stone_free.packed import Packed
from analysis.reports.stone_free.unscanned_covariates import MISSING_IN_WORDS, Covariates
from analysis.reports.stone_free.unscanned_units import HowKnown, eligible_units, how_known


@dataclass(frozen=True, eq=False)
class Weighted:
    """by_code: for each threshold what was found, a record a group. how: for each threshold how units are known."""

    by_code: dict[str, WeightedProportions]
    how: dict[str, HowKnown]
    covariates: Covariates

    def weights_of(self, code: str, units: Packed) -> npt.NDArray[np.float64]:
        """The weight of every unit at a threshold, shape (units,): 0 for one not in n, NaN where no model is."""
        made, weights = self.by_code[code], np.zeros(units.units)
        weights[eligible_units(units)] = made.weights if made.reason is None else np.nan
        return weights

    def as_dict(self) -> dict[str, Any]:
        """The models, ready for JSON."""
        return {
            "model": "logistic, of a study adequate at the threshold, over all that no other rule decides",
            "covariates": list(self.covariates.spoken),
            "missing": MISSING_IN_WORDS,
            "normalised": "within each group, to the number that its modelled units stand for",
            "truncated_at_quantile": 0.99,
            "interval": next(iter(self.by_code.values())).method if self.by_code else None,
            "thresholds": {
                code: {
                    "modelled": made.modelled,
                    "adequately_studied": made.observed,
                    "columns": list(made.covariates),
                    "largest_weight_allowed": made.truncated_at,
                    "truncated": made.truncated,
                    "reason": made.reason,
                }
                for code, made in self.by_code.items()
            },
        }


def weighted(
    units: Packed,
    grouping: Grouping,
    parts: pd.DataFrame,
    covariates: Covariates,
    *,
    seed: int,
    replicates: int,
    level: float,
) -> Weighted:
    """Weight every threshold; see ``several_weighted_proportions``.

    parts: from `unit_parts`. covariates: one row a unit.
    """
    inside = eligible_units(units)
    how = {one.code: how_known(units, parts, one.code) for one in units.thresholds}
    alike: dict[bytes, list[str]] = {}  # thresholds at which the same units are known share the model
    for code, known in how.items():
        alike.setdefault(known.observed.tobytes() + known.fixed.tobytes(), []).append(code)
    found: dict[str, WeightedProportions] = {}
    for codes in alike.values():
        known = how[codes[0]]
        made = several_weighted_proportions(
            outcomes=np.stack([how[code].free[inside] for code in codes], axis=1),
            observed=known.observed[inside],
            weight_one=known.fixed[inside],
            covariates=covariates.matrix[inside],
            names=covariates.names,
            cluster=units.patient[inside],
            group=grouping.codes[inside],
            groups=len(grouping),
            replicates=replicates,
            seed=seed,
            level=level,
        )
        found.update(zip(codes, made, strict=True))
    return Weighted({code: found[code] for code in how}, how, covariates)


def weighted_rows(base: pd.DataFrame, found: Weighted, units: Packed, grouping: Grouping) -> pd.DataFrame:
    """The rows of complete case with n, stone_free, patients, rate and limits of the weighted estimate.

    stone_free: how many of n are, each counted once. low, high: of the bootstrap, which draws patients, and so
    low_clustered and high_clustered are the same. n_effective; reason, where there is no rate or no interval.
    """
    inside = eligible_units(units)
    records = []
    for group, code in zip(base["group"], base["threshold"], strict=True):
        one, how = found.by_code[code].groups[group], found.how[code]
        counted = inside & (how.observed | how.fixed) & (grouping.codes == group)
        records.append(
            {
                "n": one.n,
                "stone_free": int((counted & how.free).sum()),
                "patients": one.clusters,
                "rate": one.estimate,
                "low": one.low,
                "high": one.high,
                "low_clustered": one.low,
                "high_clustered": one.high,
                "n_effective": one.n_effective,
                "reason": one.reason,
            }
        )
    return with_records(base.assign(unscanned="weighted"), records)
