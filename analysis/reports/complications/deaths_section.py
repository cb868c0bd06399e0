"""Death of any cause, apart from the grade for death of a complication."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.complications.reviewed import vital_status_known
from analysis.outcomes.complications.therapy_levels import V
from analysis.outcomes.complications.window import within
from analysis.reports.complications.gathered import Gathered
from analysis.reports.complications.rates import RATE_COLUMNS, Happened, HowCounted, by_group, rate_rows, reasons
from analysis.reports.complications.units import Status, Units
from analysis.reports.request.grouping import Grouping
from analysis.reports.sections.report import Column, Section
from registry.schema.plurals import counted

BoolArray = npt.NDArray[np.bool_]
KNOWN = (
    "vital status known: a contact, or a day on which the patient is known to have lived, on or after the window's "
    "last day; or a recorded death"
)


def deaths_section(
    gathered: Gathered, units: Units, statuses: Sequence[Status], grouping: Grouping, how: HowCounted
) -> Section:
    """Rates of death, whatever the cause, and of those in whom no complication is graded V."""
    frames, rows = gathered.frames, []
    unsettled = 0
    for status in statuses:
        yes, maybe = died_by(gathered, units, status.days)
        unsettled += int((maybe & ~yes & status.due).sum())
        looked = vital_status_known(units.frame, frames["contacts"], frames["deaths"], frames["alive"], status.days)
        other = yes & (status.high < V)
        for measure, happened in (
            ("death of any cause", Happened(yes=yes, no=~maybe, looked=looked, due=status.due)),
            (
                "of these, no grade V",
                Happened(yes=other, no=~maybe | (status.low >= V), looked=looked, due=status.due),
            ),
        ):
            told: dict[str, Any] = {"days": status.days, "measure": measure}
            rows += rate_rows(units, grouping, happened, how, told)
    notes = ["A death stands after each operation in whose window it lies; with --unit patient once."]
    if unsettled:
        notes.append(
            f"{counted(unsettled, 'death')} known to the month or year only, which does not settle a window: unknown."
        )
    return Section(
        name="deaths",
        title=f"Death of any cause ({units.name}s)",
        rows=by_group(rows, grouping),
        columns=(Column("to day", "days"), Column("what", "measure"), *RATE_COLUMNS),
        definition={"id": "death-1", "source": "house rule, no published source", "known": KNOWN},
        in_words=(("known", f"{KNOWN} (house rule; here 'reviewed' means this)"),),
        notes=[*notes, *reasons(rows)],
    )


def died_by(gathered: Gathered, units: Units, days: int) -> tuple[BoolArray, BoolArray]:
    """Whether each unit's patient surely died in the window, and whether the patient may have."""
    deaths = gathered.frames["deaths"].set_index("patient_id")
    of = deaths.reindex(units.frame["patient_id"]).reset_index(drop=True)
    dead = of["on_low"].notna().to_numpy(dtype=bool)
    operated = units.frame["operated_on"].reset_index(drop=True)
    ends = operated + pd.Timedelta(days=days)
    sure, maybe = within(low=of["on_low"], high=of["on_high"], after=operated, ends=ends, as_of=units.as_of)
    before = (of["on_high"] < operated).to_numpy(dtype=bool)  # a slip of the record: nobody is operated on after death
    return sure & dead, maybe & dead & ~before
