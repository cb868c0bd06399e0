"""A question about stone-free rates, answered: every number that any rendering shows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import pandas as pd

from analysis.cohort.columns import CohortColumn
from analysis.estimators.clustered import METHOD as CLUSTERED
from analysis.outcomes.inputs import Tables
from analysis.outcomes.ladder import RUNGS
from analysis.outcomes.size_classes import unit_parts
from analysis.outcomes.status import stone_free_status
from analysis.reports.request.grouping import Grouping, UnitOf, everyone, grouped, unit_in_name, units_of
from analysis.reports.request.source import CAUTIONS, Source
from analysis.reports.stone_free.comparisons import Comparison, compare
from analysis.reports.stone_free.modelled import MODELLED
from analysis.reports.stone_free.modelled_comparisons import in_order, modelled_comparisons
from analysis.reports.stone_free.modelled_rows import Modelled, modelled_rows
from analysis.reports.stone_free.packed import Packed, packed
from analysis.reports.stone_free.rates import stone_free_rates
from analysis.reports.stone_free.references import with_references
from analysis.reports.stone_free.request import Request
from analysis.reports.stone_free.several_readings import units_read_again

UNDECIDED = {
    "undecided_studies": "studies",
    "undecided_retreatments": "retreatments",
    "undecided_losses": "losses of a kidney",
    "undecided_deaths": "deaths",
}


@dataclass(frozen=True, kw_only=True)
class Answer:
    """rows: from `modelled_rows`, of `grouping`; whole: the same of everyone, complete case. decided: units on
    each rung, one column a threshold. several_readings: units of whose picked study an examination was read more than
    once. undecided: dates that settle neither order nor window, by what they date. modelled: the models behind weighted
    and imputed.
    """

    request: Request
    source: Source
    statuses: pd.DataFrame
    units: Packed
    grouping: Grouping
    rows: pd.DataFrame
    whole: pd.DataFrame
    decided: pd.DataFrame
    comparisons: list[Comparison]
    several_readings: int
    undecided: dict[str, int]
    modelled: Modelled

    @property
    def cautions(self) -> tuple[str, ...]:
        return (*self.request.definition.cautions(), *CAUTIONS)

    def definition(self) -> dict[str, Any]:
        """All that was asked and decided, and where the numbers come from, ready for JSON."""
        request, source = self.request, self.source
        return {
            **request.definition.as_dict(),
            "unscanned": list(request.unscanned),
            "interval": request.interval,
            "interval_clustered": CLUSTERED,
            "level": request.level,
            "by": [split.as_dict() for split in request.by],
            "compare": request.contrast.as_dict() if request.contrast else None,
            "strata": request.strata.as_dict() if request.strata else None,
            "seed": request.seed,
            "replicates": request.replicates,
            "small_number": request.small_number,
            "own_defaults": [one.as_dict() for one in request.own_defaults],
            **self.modelled.as_dict(),
            **source.as_dict(),
            "decided": {code: self.decided[code].to_dict() for code in self.decided.columns},
            "several_readings": self.several_readings,
            "undecided_dates": self.undecided,
            "cautions": list(self.cautions),
        }


def answered(
    request: Request,
    source: Source,
    sides: pd.DataFrame,
    frames: Mapping[str, pd.DataFrame],
    columns: Mapping[str, CohortColumn] | None = None,
) -> Answer:
    """Work out a request.

    sides: the cohort, one row a side with its grouping columns. frames: the frames of `outcomes.inputs.Tables`.
    columns: what is known of the grouping columns, for their units.

    Raises GravelbookError for a column or group that does not occur.
    """
    tables = Tables(**frames, as_of=source.as_of)
    statuses = stone_free_status(tables, request.definition)
    parts = unit_parts(tables, request.definition) if set(request.unscanned) & set(MODELLED) else None
    units = with_references(packed(statuses, request.definition.thresholds), frames["sides"], request.definition)
    return answer_of(
        request, source, statuses, units, sides, frames["examinations"], units_of(columns or {}), parts=parts
    )


def answer_of(
    request: Request,
    source: Source,
    statuses: pd.DataFrame,
    units: Packed,
    sides: pd.DataFrame,
    examinations: pd.DataFrame,
    unit_of: UnitOf = unit_in_name,
    *,
    parts: pd.DataFrame | None = None,
) -> Answer:
    """Work out a request from statuses that are already there, packed as `units`; see `answered`.

    examinations: one row a reading, with reading_id, examination_id and renal_unit_id. parts: from
    `outcomes.size_classes.unit_parts`, needed for the handlings weighted and imputed.
    """
    by_columns = partial(grouped, units.side_id, units.inside(), sides, unit_of=unit_of)
    grouping = by_columns(request.by)
    rates = partial(stone_free_rates, units, interval=request.interval, level=request.level)
    rows, modelled = modelled_rows(units, grouping, request, sides, parts)
    comparisons = []
    if request.contrast:
        comparisons = compare(
            units,
            by_columns([request.contrast.split]),
            request.contrast,
            by_columns([request.strata]) if request.strata else None,
            unscanned=[mode for mode in request.unscanned if mode not in MODELLED],
            level=request.level,
            seed=request.seed,
            replicates=request.replicates,
        )
        arms = by_columns([request.contrast.split])
        comparisons = in_order([*comparisons, *modelled_comparisons(units, arms, request, modelled, parts)], request)
    first = statuses.drop_duplicates("unit_id")
    return Answer(
        request=request,
        source=source,
        statuses=statuses,
        units=units,
        grouping=grouping,
        rows=rows,
        whole=rates(everyone(units.units)),
        decided=_decided(statuses, request),
        comparisons=comparisons,
        several_readings=units_read_again(first, examinations),
        undecided={name: int(first[column].sum()) for column, name in UNDECIDED.items()},
        modelled=modelled,
    )


def _decided(statuses: pd.DataFrame, request: Request) -> pd.DataFrame:
    """Units on each rung that occurs, in the order of the ladder; one column a threshold code."""
    codes = [one.code for one in request.definition.thresholds]
    counts = statuses.groupby(["rung", "threshold"], observed=True).size().unstack(fill_value=0)
    present = [rung for rung in RUNGS if rung in counts.index]
    return counts.reindex(index=present, columns=codes, fill_value=0).astype(int)
