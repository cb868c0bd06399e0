"""A small invented ward with known answers, as rows of a registry. Days count from 1 January 2024."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from analysis.reports.request.source import Asked, ask_snapshot_cohort
from tests.cohort.rows import Rows, day


def operated(rows: Rows, on: int = 0, *, patient: int | None = None, reviewed: int | None = 60, **side: Any) -> int:
    """One operation of one side; its patient was reviewed some days later. Returns the operation's key."""
    patient = rows.patient(sex="male", birth_year=1974) if patient is None else patient
    unit = next((one["id"] for one in rows.tables["renal_unit"] if one["patient_id"] == patient), None)
    made = rows.side(rows.unit(patient) if unit is None else unit, on, **{"conduct": "completed", **side})
    if reviewed is not None:
        known = day(on + reviewed)
        rows.add("contact", patient_id=patient, contacted_on=known, complications_known_to=known)
    return rows.operation_of(made)


def observed(rows: Rows, operation: int, after: int, *, timing: str | None = "after", **values: Any) -> None:
    """A set of observations some days after an operation (before it when negative); it names the operation."""
    told = rows.tables["operation"][operation - 1]
    on = (told["operated_on"] - day(0)).days + after
    earlier = [row for row in rows.tables["observation_set"] if row["patient_id"] == told["patient_id"]]
    number = 1 + sum(row["observed_on"] == day(on) for row in earlier)
    own = {"operation_id": operation, "timing": timing, "set_number": number}
    rows.add("observation_set", patient_id=told["patient_id"], observed_on=day(on), **{**own, **values})


def complained(rows: Rows, operation: int, what: str, after: int, *therapies: str) -> int:
    """A complication that began some days after the operation."""
    on = (rows.tables["operation"][operation - 1]["operated_on"] - day(0)).days + after
    number = 1 + sum(row["operation_id"] == operation for row in rows.tables["complication"])
    made = rows.add("complication", operation_id=operation, complication_number=number, what=what, onset_on=day(on))
    for place, therapy in enumerate(therapies, 1):
        rows.add("therapy", complication_id=made, therapy_number=place, what=therapy, given_on=day(on))
    return made


def asked(rows: Rows, folder: Path, *, closed_on: int = 400) -> Asked:
    """The cohort of these rows; the last date is day 400 unless said."""
    rows.add("contact", patient_id=1, contacted_on=day(closed_on))
    return ask_snapshot_cohort(rows.snapshot_of(folder))
