"""Rates of something that befell units: among the reviewed, between bounds, and weighted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from analysis.estimators.proportions import ProportionMethod
from analysis.reports.complications.review_model import review_covariates
from analysis.reports.complications.units import Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.proportion_rows import proportion_rows
from analysis.reports.sections.report import Column
from analysis.tables.rounding import NOTHING, percent_range
from analysis.tables.small_numbers import too_few

BoolArray = npt.NDArray[np.bool_]

HANDLED = {
    "reviewed": "among the reviewed: n is those reviewed for the window whose answer is known",
    "lower": "lower bound: n is all that are due, whatever is not known counted as not having happened; or the rate "
    "among the reviewed, where that is lower still",
    "upper": "upper bound: n is all that are due, whatever is not known counted as having happened",
    "weighted": "weighted: the reviewed, each by the inverse of the chance of having been reviewed",
}
"""What may be done about those who were not reviewed, in words."""

RATE_COLUMNS = (
    Column("counted", "unreviewed"),
    Column("n", "n", "count"),
    Column("with", "events", "count"),
    Column("rate", "estimate", "percent"),
    Column("interval", "low high", "percent_range"),
    Column("by patient", "low_clustered high_clustered", "percent_range"),
    Column("bounds", "bounds"),
    Column("unknown", "unknown", "count", free=True),
)


@dataclass(frozen=True, eq=False)
class Happened:
    """What is known of one thing in each unit; all of shape (units,).

    yes: surely happened in the window, whoever told it. no: surely did not, so far as what is recorded goes; counts as
    known only where `looked` is true. looked: somebody looked. due: the window is over.
    """

    yes: BoolArray
    no: BoolArray
    looked: BoolArray
    due: BoolArray


@dataclass(frozen=True)
class HowCounted:
    """handlings: which rows, among HANDLED; the rest how they are estimated and, as words, withheld."""

    handlings: Sequence[str]
    interval: ProportionMethod
    level: float
    seed: int = 1
    replicates: int = 2000
    small_number: int = 5


def rate_rows(
    units: Units, grouping: Grouping, happened: Happened, how: HowCounted, told: dict[str, Any]
) -> list[dict[str, Any]]:
    """One record a group and handling, in this order.

    told: keys put in front of each record (days, measure). Keys besides those of proportion_rows: unreviewed (the
    handling), unknown (not in n, or in n of a bound by assumption), eligible (due), reviewed (of these), not_due,
    known_unreviewed (not reviewed, and known to have had it), lower and upper (both bounds' estimates), known_share (of
    all that are due, those known to have had it), bounds (both in words), reason.
    """
    by_mode = {
        mode: _rows(mode, units, grouping, happened, how) for mode in {*how.handlings, "reviewed", "lower", "upper"}
    }
    made = []
    for place in range(len(grouping)):
        own = grouping.codes == place
        known_share = by_mode["lower"][place]["estimate"]
        by_mode["lower"][place] = _lower_of(by_mode["lower"][place], by_mode["reviewed"][place])
        shared = {
            "lower": by_mode["lower"][place]["estimate"],
            "upper": by_mode["upper"][place]["estimate"],
            "known_share": known_share,
            "eligible": int((own & happened.due).sum()),
            "reviewed": int((own & happened.due & happened.looked).sum()),
            "not_due": int((own & ~happened.due).sum()),
            "known_unreviewed": int((own & happened.due & happened.yes & ~happened.looked).sum()),
        }
        shared["bounds"] = _in_words(shared, by_mode["reviewed"][place]["n"], how.small_number)
        for mode in how.handlings:
            row = by_mode[mode][place]
            made.append({"group": row["group"], **told, "unreviewed": mode, **row, **shared})
    return made


def _in_words(shared: dict[str, Any], reviewed: int, small_number: int) -> str:
    """The bounds as people read them; they are of all that are due, so that these must be enough, and the reviewed."""
    if too_few(shared["eligible"], small_number) or too_few(reviewed, small_number):
        return NOTHING
    return percent_range(shared["lower"], shared["upper"])


def _lower_of(bound: dict[str, Any], seen: dict[str, Any]) -> dict[str, Any]:
    """The lower bound, so that the bounds hold the rate among the reviewed as well as that of all.

    When more of the unreviewed are known to have had it than of the reviewed, the rate among the reviewed lies under
    the share of all that are known to have had it.
    """
    if seen["estimate"] is None or bound["estimate"] is None or bound["estimate"] <= seen["estimate"]:
        return bound
    said = f"the rate among the reviewed; {bound['events']} of all {bound['n']} are known to have had it"
    return {**seen, "unknown": bound["unknown"], "reason": said}


def _rows(mode: str, units: Units, grouping: Grouping, happened: Happened, how: HowCounted) -> list[dict[str, Any]]:
    known = happened.due & happened.looked & (happened.yes | happened.no)
    sure_no = happened.no & happened.looked
    event = ~sure_no if mode == "upper" else happened.yes
    counted = happened.due if mode in ("lower", "upper") else known
    rows = proportion_rows(
        event=event, counted=counted, cluster=units.patient, grouping=grouping, interval=how.interval, level=how.level
    )
    unknown = happened.due & (~(happened.yes | sure_no) if mode in ("lower", "upper") else happened.looked & ~known)
    for place, row in enumerate(rows):
        row["unknown"] = int((unknown & (grouping.codes == place)).sum())
        row["reason"] = None
    if mode == "weighted":
        _weigh(rows, units, grouping, happened, known, how)
    return rows


def _weigh(
    rows: list[dict[str, Any]], units: Units, grouping: Grouping, happened: Happened, known: BoolArray, how: HowCounted
) -> None:
    """Put the weighted estimates in the rows; those known to have had it without a review are in no weight."""
    from analysis.estimators.weighting import weighted_proportions

    due = happened.due
    if not due.any():
        for row in rows:
            row.update(n_effective=None, reason="nobody's window is over yet")
        return
    covariates, names = review_covariates(units.frame[due])
    made = weighted_proportions(
        outcome=happened.yes[due].astype(np.float64),
        observed=known[due],
        weight_one=np.zeros(int(due.sum()), dtype=bool),
        covariates=covariates,
        names=names,
        cluster=units.patient[due],
        group=grouping.codes[due],
        groups=len(grouping),
        replicates=how.replicates,
        seed=how.seed,
        level=how.level,
    )
    for row, one in zip(rows, made.groups, strict=True):
        row.update(
            estimate=one.estimate,
            low=one.low,
            high=one.high,
            low_clustered=one.low,
            high_clustered=one.high,
            n=one.n,
            unknown=one.unobserved,
            n_effective=one.n_effective,
            reason=one.reason,
        )


def under_known_share(rows: Sequence[dict[str, Any]]) -> int:
    """How many rates among the reviewed lie under the share known of all: the unreviewed are known to have had more."""
    return sum(
        row["unreviewed"] == "reviewed" and row["estimate"] is not None and row["estimate"] < row["known_share"]
        for row in rows
    )


def by_group(rows: Sequence[dict[str, Any]], grouping: Grouping) -> list[dict[str, Any]]:
    """Rows of one group together, in the order of the groups, otherwise as they come."""
    order = {tuple(label): place for place, label in enumerate(grouping.labels)}
    return sorted(rows, key=lambda row: order[tuple(row["group"].values())])


def reasons(rows: Sequence[dict[str, Any]]) -> list[str]:
    """Why a weighted rate, or its interval, could not be given; each once."""
    told = dict.fromkeys(row["reason"] for row in rows if row["reason"] and row["unreviewed"] == "weighted")
    return [f"Weighted, no rate or no interval: {reason}. The bounds hold whatever the others had." for reason in told]
