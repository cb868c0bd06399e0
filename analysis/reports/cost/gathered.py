"""From a registry to costed courses with their stone-free status."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.cohort.columns import cohort_columns
from analysis.cohort.sql.costs import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.cost.course_costs import Costs, course_costs, one_money
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status
from analysis.outcomes.thresholds import Threshold
from analysis.reports.cost.request import COST, Request, read_request
from analysis.reports.request.grouping import Grouping, grouped, units_of
from analysis.reports.request.own_defaults import STONE_FREE
from analysis.reports.request.source import Asked, settings_in_force
from analysis.reports.stone_free.request import Request as StoneFreeRequest
from analysis.reports.stone_free.request import read_request as read_stone_free

DATED = {
    "sides": "operated_on",
    "admissions": "admitted_on",
    "examinations": "on_low",
    "contacts": "on_low",
    "later": "on_low",
    "removals": "on_low",
    "therapies": "on_low",
    "cultures": "on_low",
    "uses": "operated_on",
    "repairs": "repaired_on",
}
"""The column by which rows later than the as-of date are left out."""
BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Gathered:
    """courses: one row a course of the cohort whose index side is in it, in the order of course_id, with the columns
    of `course_costs.Costs.courses` and inside (the denominator). status: of each course, one column a threshold code.
    charges: of these courses alone. currency, price_year: of all amounts; None where there is none. by: the groups of
    --by; arms: those of --compare.
    """

    request: Request
    stone_free: StoneFreeRequest
    asked: Asked
    courses: pd.DataFrame
    status: pd.DataFrame
    costs: Costs
    charges: pd.DataFrame
    currency: str | None
    price_year: int | None
    by: Grouping
    arms: Grouping | None

    @property
    def thresholds(self) -> tuple[Threshold, ...]:
        return self.stone_free.definition.thresholds

    @property
    def costed(self) -> BoolArray:
        """Whether a course's cost is known to the end of the horizon."""
        return np.asarray(self.courses["due"] & self.courses["cost"].notna(), dtype=bool)

    @property
    def inside(self) -> BoolArray:
        return np.asarray(self.courses["inside"], dtype=bool)

    @property
    def patient(self) -> npt.NDArray[np.int64]:
        return np.asarray(self.courses["patient_id"], dtype=np.int64)

    def is_status(self, code: str, *words: str) -> BoolArray:
        """Whether each course has one of these statuses at a threshold."""
        return np.asarray(self.status[code].isin(words), dtype=bool)


def stone_free_options(request: Request) -> dict[str, str | None]:
    """The stone-free options as typed, the course being the unit and planned stages counted unless said otherwise."""
    typed: dict[str, str | None] = {"sessions": "planned", **request.defining}
    return {**typed, "unit": "course", "unscanned": ",".join(request.unscanned), "level": str(request.level)}


def gathered(asked: Asked, typed: Mapping[str, str | None]) -> Gathered:
    """The costed courses of a cohort.

    typed: options of the command. Raises GravelbookError for several currencies or price years, a column or group that
    does not occur, or a setting at fault.
    """
    cohort, snapshot = asked.cohort, asked.snapshot
    given = [name for name, value in typed.items() if value is not None]
    request = read_request(typed, settings_in_force(snapshot, cohort.as_of, COST, given))
    options = stone_free_options(request)
    stone_free = read_stone_free(options, settings_in_force(snapshot, cohort.as_of, STONE_FREE, options))
    statuses = stone_free_status(Tables(**cohort.outcome_frames, as_of=cohort.as_of), stone_free.definition)
    as_of = pd.Timestamp(cohort.as_of)
    costs = course_costs(until(subject_frames(snapshot, SUBJECT, cohort.as_of), as_of), request.rules, as_of)
    # Without a course there is nothing to turn, and a column a threshold all the same.
    codes = [threshold.code for threshold in stone_free.definition.thresholds]
    status = statuses.pivot(index="unit_id", columns="threshold", values="status").sort_index().reindex(columns=codes)
    courses = costs.courses.set_index("course_id").loc[status.index].rename_axis("course_id").reset_index()
    courses["inside"] = (status[codes[0]] != "out").to_numpy(dtype=bool) if len(status) else False
    charges = costs.charges[costs.charges["course_id"].isin(courses.loc[courses["inside"], "course_id"])]
    currency, price_year = one_money(charges)
    by_columns = partial(
        grouped,
        courses["index_side"].to_numpy(dtype=np.int64),
        courses["inside"].to_numpy(dtype=bool),
        cohort.sides_frame,
        unit_of=units_of(cohort_columns()),
    )
    return Gathered(
        request=request,
        stone_free=stone_free,
        asked=asked,
        courses=courses,
        status=status.reset_index(drop=True),
        costs=costs,
        charges=charges.reset_index(drop=True),
        currency=currency,
        price_year=price_year,
        by=by_columns(request.by),
        arms=by_columns([request.contrast.split]) if request.contrast else None,
    )


def until(frames: Mapping[str, pd.DataFrame], as_of: pd.Timestamp) -> dict[str, pd.DataFrame]:
    """The frames without what is dated after as_of; a discharge later than that is not known yet."""
    made = dict(frames)
    for name, column in DATED.items():
        made[name] = made[name][(made[name][column] <= as_of).to_numpy(dtype=bool)].reset_index(drop=True)
    left = made["admissions"]["discharged_on"]
    made["admissions"] = made["admissions"].assign(discharged_on=left.where(left <= as_of))
    return made
