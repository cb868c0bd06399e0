"""A tiny builder of tables: days count from day 0, and what a test does not say is ordinary.

Ordinary is: one patient, one renal unit, one completed operation on day 0 that begins a course, asked about
long after. A day is a number, or a pair of numbers when only an interval is known.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from analysis.outcomes.definition import Definition
from analysis.outcomes.input_columns import COLUMNS
from analysis.outcomes.inputs import Tables
from analysis.outcomes.status import stone_free_status

DAY_0 = dt.date(2025, 1, 1)
LONG_AFTER = 2000
FIVE = "0,lt2,2,lt4,4"
Day = int | tuple[int, int]


def mm(low: float | None, high: float | None = None, **more: Any) -> dict[str, Any]:
    """A fragment: mm(3) is exactly 3 mm, mm(1, 3) is a range, mm(None) has no size."""
    size = {"low_mm": low, "high_mm": low if high is None else high}
    return {**size, "above": False, "kind": "single", "source": "not_said", "stone_id": None, **more}


def larger_than(low: float, **more: Any) -> dict[str, Any]:
    return {**mm(low, **more), "high_mm": None, "above": True}


@dataclass
class Case:
    as_of: int = LONG_AFTER
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=lambda: {name: [] for name in COLUMNS})

    def side(
        self,
        day: int = 0,
        *,
        stage: int | None = 0,
        course: int | None = None,
        patient: int = 1,
        unit: int = 1,
        operation: int | None = None,
        number: int = 1,
        intent: str = "stone_removal",
        conduct: str | None = None,
        access_failed: bool = False,
        in_cohort: bool = True,
        kind: str | None = None,
    ) -> int:
        """A treated side, and its treatment if a stone was gone for. Stage 0 without a course begins one."""
        side_id = 101 + len(self.rows["sides"])
        if stage == 0 and course is None:
            course = 500 + side_id
        self.rows["sides"].append(
            {
                "side_id": side_id,
                "operation_id": 1000 + side_id if operation is None else operation,
                "patient_id": patient,
                "renal_unit_id": unit,
                "course_id": course,
                "stage": stage,
                "operated_on": _date(day),
                "day_number": number,
                "intent": intent,
                "conduct": conduct,
                "access_failed": access_failed,
                "in_cohort": in_cohort,
            }
        )
        if intent == "stone_removal" and conduct not in ("not_started", "no_stone_found"):
            kind = kind or ("unplanned" if stage is None else "index" if stage == 0 else "planned")
            self._treat(day, unit, kind, course, patient, number=number, side_id=side_id)
        return side_id

    def elsewhere(self, day: Day, kind: str = "unplanned", *, unit: int = 1, course: int | None = None) -> None:
        """A stone treatment in another hospital."""
        self._treat(day, unit, kind, course, patient=1, number=None, side_id=None)

    def study(
        self,
        day: Day,
        modality: str = "ct",
        *fragments: dict[str, Any],
        slice_mm: float | None = None,
        unit: int = 1,
        patient: int = 1,
        finding: str | None = "",
        every_calyx_seen: bool | None = None,
        after_operation: bool | None = None,
        read: bool = True,
    ) -> int:
        """An examination with one reading; a CT is thin unless said. Without fragments none were seen."""
        examination_id = 301 + len({row["examination_id"] for row in self.rows["examinations"]})
        low, high = _both(day)
        self.rows["examinations"].append(
            {
                "examination_id": examination_id,
                "reading_id": None,
                "patient_id": patient,
                "renal_unit_id": unit,
                "on_low": _date(low),
                "on_high": _date(high),
                "after_operation": after_operation,
                "modality": modality,
                "slice_mm": 1.0 if modality == "ct" and slice_mm is None else slice_mm or None,
                "every_calyx_seen": every_calyx_seen,
                "finding": None,
            }
        )
        if read:
            self._fill(self.rows["examinations"][-1], finding, fragments)
        return examination_id

    def second_reader(self, examination_id: int, *fragments: dict[str, Any], finding: str | None = "") -> None:
        """Another reading of the same renal unit in the same examination."""
        found = [row for row in self.rows["examinations"] if row["examination_id"] == examination_id]
        self.rows["examinations"].append({**found[0], "reading_id": None})
        self._fill(self.rows["examinations"][-1], finding, fragments)

    def stone(self, side_id: int, *, aimed: bool = True, before: bool = True, radiolucent: bool = False) -> int:
        """A stone of the side's course, aimed at or left on purpose in that side's operation."""
        stone_id = 701 + len(self.rows["stones"])
        side = next(row for row in self.rows["sides"] if row["side_id"] == side_id)
        row = {"course_id": side["course_id"], "renal_unit_id": side["renal_unit_id"], "radiolucent": radiolucent}
        self.rows["stones"].append({"stone_id": stone_id, **row})
        self.aim(stone_id, side_id, aimed=aimed, before=before)
        return stone_id

    def aim(self, stone_id: int, side_id: int, *, aimed: bool = True, before: bool = True) -> None:
        word = "aimed_at" if aimed else "left_on_purpose"
        self.rows["aims"].append(
            {"stone_id": stone_id, "side_id": side_id, "aimed": word, "left_recorded_before_access": before}
        )

    def lost(self, day: Day, *, unit: int = 1) -> None:
        low, high = _both(day)
        self.rows["losses"].append({"renal_unit_id": unit, "on_low": _date(low), "on_high": _date(high)})

    def died(self, day: Day, *, patient: int = 1) -> None:
        low, high = _both(day)
        self.rows["deaths"].append({"patient_id": patient, "on_low": _date(low), "on_high": _date(high)})

    def tables(self) -> Tables:
        frames = {name: _frame(name, rows) for name, rows in self.rows.items()}
        return Tables(**frames, as_of=_date(self.as_of).date())

    def _treat(
        self,
        day: Day,
        unit: int,
        kind: str,
        course: int | None,
        patient: int,
        *,
        number: int | None,
        side_id: int | None,
    ) -> None:
        low, high = _both(day)
        self.rows["treatments"].append(
            {
                "treatment_id": 201 + len(self.rows["treatments"]),
                "patient_id": patient,
                "renal_unit_id": unit,
                "side_id": side_id,
                "on_low": _date(low),
                "on_high": _date(high),
                "day_number": number,
                "kind": kind,
                "course_id": course,
            }
        )

    def _fill(self, row: dict[str, Any], finding: str | None, fragments: tuple[dict[str, Any], ...]) -> None:
        reading_id = 401 + len(self.rows["examinations"])
        row["reading_id"] = reading_id
        row["finding"] = ("fragments" if fragments else "none_seen") if finding == "" else finding
        self.rows["fragments"] += [{"reading_id": reading_id, **fragment} for fragment in fragments]


def judge(case: Case, threshold: str = "2", **options: Any) -> pd.DataFrame:
    """The whole answer, one row per unit and threshold."""
    return stone_free_status(case.tables(), Definition.from_options(options, threshold=threshold))


def verdict(case: Case, threshold: str = "2", **options: Any) -> tuple[str, str]:
    """(status, rung) of the first unit at one threshold."""
    row = judge(case, threshold, **options).iloc[0]
    return row["status"], row["rung"]


def ladder(case: Case, **options: Any) -> str:
    """Statuses of the first unit at 0, < 2, 2, < 4 and 4 mm, in words separated by spaces."""
    return " ".join(judge(case, FIVE, **options)["status"].head(5))


def picked(case: Case, threshold: str = "2", **options: Any) -> int | None:
    """The examination picked for the first unit."""
    found = judge(case, threshold, **options)["examination_id"].iloc[0]
    return None if pd.isna(found) else int(found)


def _both(day: Day) -> tuple[int, int]:
    return (day, day) if isinstance(day, int) else day


def _date(day: int) -> pd.Timestamp:
    return pd.Timestamp(DAY_0) + pd.Timedelta(days=day)


def _frame(name: str, rows: list[dict[str, Any]]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=list(COLUMNS[name]))
    for column, kind in COLUMNS[name].items():
        if kind.holds == "id":
            frame[column] = frame[column].astype("Int64" if kind.nullable else "int64")
        elif kind.holds == "number":
            frame[column] = frame[column].astype("float64")
        elif kind.holds == "date":
            frame[column] = frame[column].astype("datetime64[s]")
        elif kind.holds == "flag":
            frame[column] = frame[column].astype("boolean")
    return frame
