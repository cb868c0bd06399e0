"""Readmission and unplanned attendance after discharge."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.complications.readmission import latest_operation, readmissions
from analysis.outcomes.complications.window import within
from analysis.reports.complications.gathered import Gathered
from analysis.reports.complications.rates import RATE_COLUMNS, Happened, HowCounted, by_group, rate_rows, reasons
from analysis.reports.complications.units import Status, Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.report import Column, Section

BoolArray = npt.NDArray[np.bool_]
DEFINITION = {
    "readmission": "an admission recorded as unplanned, or named by a complication as its readmission, on or after the "
    "discharge of the operation's own stay",
    "unplanned attendance": "an after-discharge entry of that kind",
    "belongs_to": "the patient's latest counted operation on or before that day",
}


def attendance_section(
    gathered: Gathered, units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted
) -> Section:
    """Rates of readmission, unplanned attendance, and either, among the reviewed with bounds."""
    back, seen = came_back(gathered, units)
    rows: list[dict[str, Any]] = []
    for status in statuses:
        found = {
            "readmission": placed(back, units, status.days),
            "unplanned attendance": placed(seen, units, status.days),
        }
        (yes_a, maybe_a), (yes_b, maybe_b) = found.values()
        found["either"] = (yes_a | yes_b, maybe_a | maybe_b)
        for measure, (yes, maybe) in found.items():
            happened = Happened(yes=yes, no=~maybe, looked=status.reviewed, due=status.due)
            rows += rate_rows(units, grouping, happened, how, {"days": status.days, "measure": measure})
    return Section(
        name="attendance",
        title=f"Readmission and unplanned attendance ({units.name}s)",
        rows=by_group(rows, grouping),
        columns=(Column("to day", "days"), Column("what", "measure"), *RATE_COLUMNS),
        definition={"id": "readmission-1", "source": "house rule, no published source", **DEFINITION},
        in_words=(
            ("readmission", DEFINITION["readmission"] + " (house rule)"),
            ("belongs to", DEFINITION["belongs_to"]),
        ),
        notes=reasons(rows),
    )


def came_back(gathered: Gathered, units: Units) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Readmissions and attendances, each with the place of its unit: unit, on_low, on_high, sure."""
    frames = gathered.frames
    counted = gathered.operations[gathered.operations["counted"]]
    if units.name == "patient":
        counted = units.frame
    back = readmissions(frames["admissions"], frames["complications"], frames["operations"], counted)
    seen = latest_operation(frames["attendances"], counted).assign(sure=True)
    place = pd.Series(np.arange(len(units)), index=units.frame["operation_id"])
    made = []
    for frame in (back, seen):
        placed = frame.assign(unit=place.reindex(frame["operation_id"]).to_numpy())
        made.append(placed[placed["unit"].notna()].astype({"unit": "int64"}).reset_index(drop=True))
    return made[0], made[1]


def placed(happened: pd.DataFrame, units: Units, days: int) -> tuple[BoolArray, BoolArray]:
    """Whether it surely befell each unit in the window, and whether it may have."""
    ends = (happened["operated_on"] + pd.Timedelta(days=days)).astype("datetime64[s]")
    sure, maybe = within(
        low=happened["on_low"], high=happened["on_high"], after=happened["operated_on"], ends=ends, as_of=units.as_of
    )
    told = happened["sure"].to_numpy(dtype=bool)
    yes, may = np.zeros(len(units), dtype=bool), np.zeros(len(units), dtype=bool)
    of = happened["unit"].to_numpy(dtype=np.int64)
    yes[of[sure & told]] = True
    may[of[maybe]] = True
    return yes, may
