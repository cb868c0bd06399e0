"""All rows of an answer: those that only count, and those that need a model of the unscanned."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from analysis.outcomes.size_classes import possible_classes
from analysis.reports.request.grouping import Grouping
from analysis.reports.stone_free.imputed import ImputedClasses, imputed_classes, imputed_rows
from analysis.reports.stone_free.modelled import MODELLED
from analysis.reports.stone_free.packed import Packed
from analysis.reports.stone_free.rates import stone_free_rates
from analysis.reports.stone_free.request import Request
from analysis.reports.stone_free.unscanned_covariates import Covariates, covariates_of
from analysis.reports.stone_free.weighted import Weighted, weighted, weighted_rows

EXTRA = ("n_effective", "reason")
"""Columns that only the rows of a model have."""


@dataclass(frozen=True, eq=False)
class Modelled:
    """The models behind the rows; None for one that was not asked for. covariates: of the units, if any was."""

    weighted: Weighted | None = None
    imputed: ImputedClasses | None = None
    covariates: Covariates | None = None

    def as_dict(self) -> dict[str, Any]:
        """The models asked for, by handling, ready for JSON."""
        asked = {"weighted": self.weighted, "imputed": self.imputed}
        return {name: made.as_dict() for name, made in asked.items() if made is not None}


def modelled_rows(
    units: Packed, grouping: Grouping, request: Request, sides: pd.DataFrame, parts: pd.DataFrame | None
) -> tuple[pd.DataFrame, Modelled]:
    """The rows of every handling asked for, by group, threshold and handling in the order asked.

    parts: from `unit_parts`. Columns as `stone_free_rates`, and n_effective and reason when a model was asked for.
    """
    plain = [mode for mode in request.unscanned if mode not in MODELLED]

    def counted(*modes: str) -> pd.DataFrame:
        return stone_free_rates(units, grouping, unscanned=modes, interval=request.interval, level=request.level)

    if len(plain) == len(request.unscanned):
        return counted(*plain), Modelled()
    if parts is None:
        raise ValueError("The handlings weighted and imputed need the parts of the units.")
    made = [counted(*plain).assign(n_effective=float("nan"), reason=None)] if plain else []
    modelled = models(units, grouping, request, sides, parts)
    if modelled.weighted is not None:
        made.append(weighted_rows(counted("complete"), modelled.weighted, units, grouping))
    if modelled.imputed is not None:
        made.append(imputed_rows(counted("lower"), modelled.imputed, units, grouping, request.level))
    rows = pd.concat([part.astype({"stone_free": object, "reason": object}) for part in made], ignore_index=True)
    codes = {one.code: at for at, one in enumerate(units.thresholds)}
    modes = {mode: at for at, mode in enumerate(request.unscanned)}
    place = pd.DataFrame(
        {"group": rows["group"], "code": rows["threshold"].map(codes), "mode": rows["unscanned"].map(modes)}
    )
    return rows.loc[place.sort_values(["group", "code", "mode"]).index].reset_index(drop=True), modelled


def models(units: Packed, grouping: Grouping, request: Request, sides: pd.DataFrame, parts: pd.DataFrame) -> Modelled:
    """The models that a request needs."""
    of_units = covariates_of(units.side_id, sides)
    weights, classes = None, None
    if "weighted" in request.unscanned:
        weights = weighted(
            units,
            grouping,
            parts,
            of_units,
            seed=request.seed,
            replicates=request.replicates,
            level=request.level,
        )
    if "imputed" in request.unscanned:
        of_parts = covariates_of(possible_classes(parts)["side_id"].to_numpy(dtype="int64"), sides)
        classes = imputed_classes(units, parts, of_parts, imputations=request.imputations, seed=request.seed)
    return Modelled(weights, classes, of_units)
