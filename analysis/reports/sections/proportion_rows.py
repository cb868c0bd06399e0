"""Rows of proportions: counts by group, with the plain interval and the one that allows for clusters."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.clustered import intervals_from_counts
from analysis.estimators.proportions import ProportionMethod, proportion_interval
from analysis.reports.request.grouping import Grouping

BoolArray = npt.NDArray[np.bool_]


def proportion_rows(
    *,
    event: BoolArray,
    counted: BoolArray,
    cluster: npt.NDArray[np.int64],
    grouping: Grouping,
    interval: ProportionMethod = "wilson",
    level: float = 0.95,
) -> list[dict[str, Any]]:
    """One record a group, in the order of `grouping`.

    event: whether it happened to each unit, shape (units,); looked at where `counted`. counted: whether the unit
    stands in n. cluster: whole codes from 0, patients as a rule. Keys: group, n, events, estimate, low, high,
    low_clustered, high_clustered, clusters; None where there is nothing to divide by, and clustered limits below two
    clusters.
    """
    rows = []
    for place, label in enumerate(grouping.as_dicts()):
        own = counted & (grouping.codes == place)
        n, events = int(own.sum()), int((event & own).sum())
        made = proportion_interval(events=events, n=n, method=interval, level=level) if n else None
        _, pair = np.unique(cluster[own], return_inverse=True)
        many = int(pair.max(initial=-1)) + 1
        wide = intervals_from_counts(
            events=np.bincount(pair, weights=event[own].astype(np.float64), minlength=many).astype(np.float64),
            n=np.bincount(pair, minlength=many).astype(np.float64),
            group=np.zeros(many, dtype=np.int64),
            groups=1,
            level=level,
        )
        rows.append(
            {
                "group": label,
                "n": n,
                "events": events,
                "estimate": events / n if n else None,
                "low": made.low if made else None,
                "high": made.high if made else None,
                "low_clustered": _number(wide.low[0]),
                "high_clustered": _number(wide.high[0]),
                "clusters": many,
            }
        )
    return rows


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
