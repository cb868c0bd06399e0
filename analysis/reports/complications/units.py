"""The units that are counted, operations or patients, each with its events and what is known of it by each day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.outcomes.complications.reviewed import reviewed
from analysis.outcomes.complications.window import within
from analysis.outcomes.complications.worst import worst_grades
from analysis.reports.complications.gathered import Gathered

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Units:
    """frame: one row a unit: unit_id, operation_id, patient_id, operated_on, side_id and the cohort's columns.
    events: one row an event of a unit: unit (place in frame), complication_id, also_after, main_on (day of its main
    operation), and the event's columns. patient: whole codes from 0, the clusters.
    """

    name: str
    frame: pd.DataFrame
    events: pd.DataFrame
    patient: IntArray
    as_of: pd.Timestamp

    def __len__(self) -> int:
        return len(self.frame)


@dataclass(frozen=True, eq=False)
class Status:
    """What is known of each unit by one day; all of shape (units,).

    due: as-of has reached the day. reviewed; by_death: by death alone. low, high: lowest and highest that the worst
    grade can be, 0 for none. event_low, event_high: the same of each row of `Units.events`, in its order, and
    event_sure: whether it lies in the window for certain.
    """

    days: int
    due: BoolArray
    reviewed: BoolArray
    by_death: BoolArray
    low: IntArray
    high: IntArray
    event_low: IntArray
    event_high: IntArray
    event_sure: BoolArray


def units_of(gathered: Gathered, unit: str) -> Units:
    """The units of a cohort.

    operation: each counted operation, with the complications whose main operation it is, and those that came after it
    as well. patient: the patient's first counted operation, with every complication of the patient whose main
    operation is that one or a later one, each once.
    """
    counted = gathered.operations[gathered.operations["counted"]]
    counted = counted.sort_values(["operated_on", "day_number", "operation_id"])
    if unit == "patient":
        counted = counted.drop_duplicates("patient_id")
    frame = counted.sort_values("operation_id").reset_index(drop=True)
    frame["unit_id"] = frame["patient_id" if unit == "patient" else "operation_id"]
    events = _events(gathered, frame, by_patient=unit == "patient")
    patient = np.unique(frame["patient_id"], return_inverse=True)[1].astype(np.int64)
    return Units(unit, frame, events, patient, gathered.as_of)


def _events(gathered: Gathered, frame: pd.DataFrame, *, by_patient: bool) -> pd.DataFrame:
    """The events of each unit; an event may stand in several operations, and once in a patient."""
    operations = gathered.frames["operations"]
    order = operations.sort_values(["operated_on", "day_number", "operation_id"]).reset_index(drop=True)
    place = pd.Series(order.index, index=order["operation_id"])
    main = gathered.events.merge(
        operations[["operation_id", "operated_on"]].rename(columns={"operated_on": "main_on"}), on="operation_id"
    )
    also = gathered.frames["also_after"].merge(main.drop(columns="operation_id"), on="complication_id")
    every = pd.concat([main.assign(also_after=False), also.assign(also_after=True)], ignore_index=True)
    units = pd.DataFrame({"unit": np.arange(len(frame)), "of_operation": frame["operation_id"]})
    if by_patient:
        units["patient_id"] = frame["patient_id"]
        made = every.merge(units, on="patient_id")
        made = made[place.reindex(made["operation_id"]).to_numpy() >= place.reindex(made["of_operation"]).to_numpy()]
        made = made.sort_values(["unit", "complication_id", "also_after"])
    else:
        made = every.merge(units, left_on="operation_id", right_on="of_operation")
        made = made.sort_values(["unit", "complication_id", "also_after"])
    made = made.drop_duplicates(["unit", "complication_id"])
    return made[made["high"] > 0].reset_index(drop=True)  # no complication by the rule, and nobody graded it


def status_at(units: Units, gathered: Gathered, days: int) -> Status:
    """What is known of each unit by a day after its operation (day 0); that day is in."""
    frame, events = units.frame, units.events
    operated = frame["operated_on"].reset_index(drop=True)
    ends = operated + pd.Timedelta(days=days)
    of_event = events["unit"].to_numpy(dtype=np.int64)
    started = operated.iloc[of_event].reset_index(drop=True)
    main = events["main_on"].reset_index(drop=True)
    sure, maybe = within(
        low=events["onset_low"],
        high=events["onset_high"],
        after=main.where(main >= started, started),
        ends=ends.iloc[of_event].reset_index(drop=True),
        as_of=units.as_of,
    )
    low = np.where(sure, events["low"].to_numpy(dtype=np.int64), 0)
    high = np.where(maybe, events["high"].to_numpy(dtype=np.int64), 0)
    lowest, highest = worst_grades(len(units), of_event, low, high)
    seen, by_death = reviewed(frame, gathered.frames["contacts"], gathered.frames["deaths"], days)
    return Status(
        days=days,
        due=(ends < units.as_of).to_numpy(dtype=bool),
        reviewed=seen,
        by_death=by_death,
        low=lowest,
        high=highest,
        event_low=low,
        event_high=high,
        event_sure=sure,
    )
