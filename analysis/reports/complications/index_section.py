"""The comprehensive complication index of each unit, among the reviewed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from analysis.estimators.clustered_mean import METHOD, clustered_mean
from analysis.outcomes.complications import index
from analysis.outcomes.complications.worst import FloatArray, indices
from analysis.reports.complications.rates import HowCounted, by_group
from analysis.reports.complications.units import Status, Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.report import Column, Section


def index_of(units: Units, status: Status) -> FloatArray:
    """The index of each unit by the status's day; NaN where an event's grade or window is not known."""
    inside = status.event_high > 0
    of = units.events["unit"].to_numpy(dtype=np.int64)[inside]
    return indices(len(units), of, status.event_low[inside], status.event_high[inside])


def index_section(units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted) -> Section:
    """Mean, median and quartile of the index, all units and those with a complication."""
    rows: list[dict[str, Any]] = []
    for status in statuses:
        values = index_of(units, status)
        for place, group in enumerate(grouping.as_dicts()):
            own = (grouping.codes == place) & status.due & status.reviewed
            known = own & ~np.isnan(values)
            some = values[known & (values > 0)]
            mean = clustered_mean(
                values[known], units.patient[known], seed=how.seed, replicates=how.replicates, level=how.level
            )
            rows.append(
                {
                    "group": group,
                    "days": status.days,
                    "n": mean.n,
                    "unknown": int((own & np.isnan(values)).sum()),
                    "estimate": mean.estimate,
                    "low": mean.low,
                    "high": mean.high,
                    "reason": mean.reason,
                    "median": float(np.median(values[known])) if mean.n else None,
                    "upper_quartile": float(np.quantile(values[known], 0.75)) if mean.n else None,
                    "highest": float(values[known].max()) if mean.n else None,
                    "with_complication": len(some),
                    "mean_with": float(some.mean()) if len(some) else None,
                    "median_with": float(np.median(some)) if len(some) else None,
                }
            )
    few = any(0 < row["with_complication"] < 5 for row in rows)
    return Section(
        name="index",
        title=f"Comprehensive complication index, 0 to 100, among the reviewed ({units.name}s)",
        rows=by_group(rows, grouping),
        columns=(
            Column("to day", "days"),
            Column("n", "n", "count"),
            Column("mean", "estimate", "number", 2),
            Column("from", "low", "number", 2),
            Column("to", "high", "number", 2),
            Column("median", "median", "number", 1),
            Column("highest", "highest", "number", 1),
            Column("with a complication", "with_complication", "count"),
            *(() if few else (Column("their median", "median_with", "number", 1),)),
            Column("unknown", "unknown", "count", free=True),
        ),
        definition={"id": index.INDEX, "source": index.SOURCE, "weights": index.WEIGHTS, "interval": METHOD},
        in_words=(("index", f"{index.INDEX}: {index.SOURCE}"), ("interval", f"of the mean: {METHOD}")),
        notes=("Most have no complication and an index of 0; the mean is of all, and the median tells little.",),
    )
