"""Small registries with prices and rates, and what their courses cost. Days count from 1 January 2024."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from analysis.cohort.sql.costs import SUBJECT
from analysis.cohort.subjects import subject_frames
from analysis.outcomes.cost.course_costs import CostRules, Costs, course_costs
from analysis.reports.cost.gathered import until
from tests.cohort.rows import Rows, day

RATES = {
    "theatre_minute": 10.0,
    "bed_day": 400.0,
    "intensive_care_day": 1500.0,
    "clinic_visit": 90.0,
    "emergency_visit": 200.0,
    "ct": 140.0,
    "ultrasound": 60.0,
    "kub": 30.0,
    "stent_removal": 180.0,
    "reprocessing": 50.0,
}
AS_OF = day(600)


def accounts(**rates: float) -> Rows:
    """Rows of a registry with one site and a rate for every item but drugs and others, since long ago."""
    rows = Rows()
    for item, amount in {**RATES, **rates}.items():
        rate(rows, item, amount)
    return rows


def rate(rows: Rows, item: str, amount: float, detail: str = "-", since: int = -3000, **values: Any) -> int:
    common = {"currency": "EUR", "price_year": 2024}
    return rows.add(
        "cost_rate", site_id=1, item=item, item_detail=detail, since=day(since), amount=amount, **{**common, **values}
    )


def price(rows: Rows, model: int, amount: float, since: int = -3000, currency: str = "EUR") -> int:
    return rows.add("equipment_price", equipment_model_id=model, since=day(since), price=amount, currency=currency)


def stay(rows: Rows, patient: int, first: int, last: int | None, **values: Any) -> int:
    discharged = None if last is None else day(last)
    values = {"admission_number": 1, "intensive_care_days": 0, **values}
    return rows.add("admission", patient_id=patient, admitted_on=day(first), discharged_on=discharged, **values)


def operated(
    rows: Rows,
    unit: int,
    on: int,
    *,
    stage: int | None = 0,
    course: int | None = None,
    nights: int = 0,
    equipment: bool = True,
    **values: Any,
) -> int:
    """A side with its own stay and operation of an hour; as the index of a new course unless said otherwise."""
    patient = rows.tables["renal_unit"][unit - 1]["patient_id"]
    number = 1 + sum(row["admitted_on"] == day(on) for row in rows.tables["admission"] if row["patient_id"] == patient)
    admission = stay(rows, patient, on, on + nights, admission_number=number)
    side_values = {name: values.pop(name) for name in ("intent", "conduct") if name in values}
    operation = rows.operation(patient, on, admission_id=admission, **{"room_min": 60, **values})
    if stage == 0 and course is None:
        course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, operation=operation, course_id=course, stage_number=stage, **side_values)
    if equipment:
        opened(rows, side)
    return side


def opened(rows: Rows, side: int) -> None:
    """A single-use sheath of 100 on a side."""
    known = [row["id"] for row in rows.tables["equipment_model"] if row["model_code"] == "W"]
    model = known[0] if known else rows.model("access_sheath", model_code="W", single_use="yes")
    if not known:
        price(rows, model, 100.0)
    rows.used(side, model)


def costed(rows: Rows, folder: Path, **rules: Any) -> Costs:
    """What the courses of these rows cost."""
    as_of = pd.Timestamp(AS_OF)
    frames = until(subject_frames(rows.snapshot_of(folder / "frozen"), SUBJECT, AS_OF), as_of)
    return course_costs(frames, CostRules(**rules), as_of)


def cost_of(rows: Rows, folder: Path, course: int = 1, **rules: Any) -> dict[str, Any]:
    """The row of one course."""
    courses = costed(rows, folder, **rules).courses
    return dict(courses[courses["course_id"] == course].iloc[0])
