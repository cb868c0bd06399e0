"""Stone-free rates: the counts of every group and threshold, and their rates with intervals.

Counting is one pass over the units, whatever the number of groups and thresholds; only the clustered interval
needs another, over the patients of each group.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.clustered import intervals_from_counts
from analysis.estimators.proportions import ProportionMethod, proportion_interval, wilson_limits
from analysis.reports.request.grouping import BoolArray, Grouping, IntArray
from analysis.reports.stone_free.packed import SEEN_BY, Packed

FloatArray = npt.NDArray[np.float64]

UNSCANNED = {
    "complete": "complete case: n is those whose status is known",
    "lower": "lower bound: n is all that are eligible, the unknown counted as not stone-free",
    "upper": "upper bound: n is all that are eligible, the unknown counted as stone-free",
}
"""What may be done about the unknown, in words."""

COUNTS = (
    "eligible",
    "n",
    "unknown",
    "not_due",
    "died",
    "retreated_planned",
    "retreated_unplanned",
    "abandoned",
    "patients",
    "stone_free",
    "n_adequate",
    "free_adequate",
    "failed_inadequate",
)
RATES = (
    "rate",
    "low",
    "high",
    "low_clustered",
    "high_clustered",
    "rate_adequate",
    "low_adequate",
    "high_adequate",
)
MODALITIES = tuple(f"modality_{name}" for name in SEEN_BY)


def stone_free_rates(
    units: Packed,
    grouping: Grouping,
    *,
    unscanned: Sequence[str] = ("complete",),
    interval: ProportionMethod = "wilson",
    level: float = 0.95,
) -> pd.DataFrame:
    """One row per group, threshold and handling of the unscanned, in this order. Columns:

    group: place in `grouping.labels`. threshold (code), threshold_mm, comparison, unscanned.
    eligible: known and unknown. n: the denominator of the rate; complete: the known, bounds: the eligible.
    unknown, not_due, died: by status; the dead that count as failed by choice are among the known.
    retreated_planned, retreated_unplanned, abandoned: decided on that rung, whatever status it gives.
    patients: different patients among those in n.
    stone_free: counted as stone-free, the unknown among them in the upper bound.
    rate, low, high: stone_free / n with the interval asked for; low_clustered, high_clustered: Wilson at the
        effective size, clusters are patients.
    n_adequate: known from a study adequate at the threshold, or decided without a study; free_adequate the
        stone-free of them; rate_adequate, low_adequate, high_adequate: their rate.
    failed_inadequate: failures known only from a study that is not adequate at the threshold.
    modality_...: how the eligible were seen, by the picked study; modality_none without a study.

    Rates and limits are NaN where there is nothing to divide by, and clustered limits below two patients.
    Raises ValueError for an unknown handling, interval or level.
    """
    for mode in unscanned:
        if mode not in UNSCANNED:
            raise ValueError(f"There is no handling {mode!r} of the unscanned; choose from {', '.join(UNSCANNED)}.")
    cells = cells_of(units, grouping)
    counted = counts_of(units, cells)
    pairs = _Pairs(units, grouping)
    parts = []
    for at, threshold in enumerate(units.thresholds):
        shared = {name: values[:, at] for name, values in counted.items()}
        for place, mode in enumerate(unscanned):
            free, inside = counting_as(units, mode)
            part = pd.DataFrame({"group": np.arange(len(grouping)), **shared})
            part["n"] = (cells @ inside)[:, at].astype(np.int64)
            part["stone_free"] = (cells @ free)[:, at].astype(np.int64)
            part["patients"], part["low_clustered"], part["high_clustered"] = pairs.clustered(
                free[:, at], inside[:, at], level
            )
            parts.append(
                part.assign(
                    threshold=threshold.code,
                    threshold_mm=threshold.threshold_mm,
                    comparison=threshold.comparison,
                    unscanned=mode,
                    place=at * len(unscanned) + place,
                )
            )
    columns = ["group", "threshold", "threshold_mm", "comparison", "unscanned", *COUNTS, *RATES, *MODALITIES]
    if not parts:
        return pd.DataFrame(columns=columns)
    rows = pd.concat(parts, ignore_index=True)
    _add_rate(rows, "stone_free", "n", "", interval, level)
    _add_rate(rows, "free_adequate", "n_adequate", "_adequate", interval, level)
    return rows.sort_values(["group", "place"], ignore_index=True)[columns]


def counting_as(units: Packed, mode: str) -> tuple[BoolArray, BoolArray]:
    """Which patterns count as stone-free and which are in n, each of shape (patterns, thresholds)."""
    free, known = units.is_status("free"), units.is_status("free", "failed")
    unknown = units.is_status("unknown")
    if mode == "complete":
        return free, known
    return (free | unknown if mode == "upper" else free), known | unknown


def cells_of(units: Packed, grouping: Grouping) -> FloatArray:
    """How many units of each pattern stand in each group, shape (groups, patterns); the one pass."""
    width = max(1, units.patterns)
    # Units in no group are counted in a row of their own, first, which is then dropped.
    flat = (grouping.codes + 1) * width + units.pattern
    counts = np.bincount(flat, minlength=(len(grouping) + 1) * width).reshape(-1, width)
    return counts[1:, : units.patterns].astype(np.float64)


def counts_of(units: Packed, cells: FloatArray) -> dict[str, IntArray]:
    """The counts that the handling of the unscanned does not change, each of shape (groups, thresholds)."""
    known, unknown = units.is_status("free", "failed"), units.is_status("unknown")
    adequate = known & ~units.failed_inadequate
    marks: dict[str, BoolArray] = {
        "eligible": known | unknown,
        "unknown": unknown,
        "not_due": units.is_status("not_due"),
        "died": units.is_status("died"),
        "retreated_planned": units.is_rung("retreated_planned"),
        "retreated_unplanned": units.is_rung("retreated_unplanned"),
        "abandoned": units.is_rung("abandoned"),
        "n_adequate": adequate,
        "free_adequate": adequate & units.is_status("free"),
        "failed_inadequate": units.failed_inadequate & known,
        **{name: (known | unknown) & (units.modality == at) for at, name in enumerate(MODALITIES)},
    }
    return {name: (cells @ mark).astype(np.int64) for name, mark in marks.items()}


class _Pairs:
    """The patients of each group, found once: a clustered interval needs the counts of every one of them."""

    def __init__(self, units: Packed, grouping: Grouping) -> None:
        self.groups = len(grouping)
        placed = grouping.codes >= 0
        self.pattern = units.pattern[placed]
        patients = max(1, int(units.patient.max(initial=0)) + 1)
        self.pair, pairs = pd.factorize(grouping.codes[placed] * patients + units.patient[placed])
        self.group: IntArray = pairs // patients

    def clustered(self, free: BoolArray, inside: BoolArray, level: float) -> tuple[IntArray, FloatArray, FloatArray]:
        """Patients in n and the limits of each group; free, inside: shape (patterns,)."""
        if not len(inside):
            nothing = np.full(self.groups, np.nan)
            return np.zeros(self.groups, dtype=np.int64), nothing, nothing
        found = intervals_from_counts(
            events=self._counted(free & inside),
            n=self._counted(inside),
            group=self.group,
            groups=self.groups,
            level=level,
        )
        return found.clusters, found.low, found.high

    def _counted(self, mark: BoolArray) -> FloatArray:
        """Units of each pair whose pattern is marked."""
        weights = mark.astype(np.float64)[self.pattern]
        return np.bincount(self.pair, weights=weights, minlength=len(self.group)).astype(np.float64, copy=False)


def _add_rate(rows: pd.DataFrame, events: str, n: str, ending: str, method: ProportionMethod, level: float) -> None:
    """Add rate, low and high, each with `ending`, of two count columns."""
    x, size = (rows[name].to_numpy(dtype=np.float64) for name in (events, n))
    rows[f"rate{ending}"] = np.divide(x, size, out=np.full(len(rows), np.nan), where=size > 0)
    if method == "wilson":
        limits = wilson_limits(events=x, n=size, level=level)
        rows[f"low{ending}"], rows[f"high{ending}"] = limits.low, limits.high
        return
    distinct, place = np.unique(np.stack([x, size]), axis=1, return_inverse=True)
    made = [proportion_interval(events=e, n=of, method=method, level=level) for e, of in distinct.T.tolist()]
    bounds = np.array([[one.low, one.high] for one in made], dtype=np.float64).reshape(-1, 2)[place.ravel()]
    rows[f"low{ending}"], rows[f"high{ending}"] = bounds.T
