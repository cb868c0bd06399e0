"""A small invented unit with known costs and outcomes. Days count from 1 January 2024; the last date is day 400.

Seven courses of one patient each, an hour in theatre (600) and a sheath (100): three by percutaneous surgery (a night,
400, and free at 2 mm on CT, 140), four flexible: free, failed with a second operation (700 more), never scanned, and
one whose scope has no price. Two more: one begun too late to be due, and one drainage.
"""

from __future__ import annotations

from typing import Any

from tests.cohort.rows import Rows, day
from tests.spec.cost.accounts import accounts, operated

PERCUTANEOUS, FLEXIBLE = ("percutaneous",), ("flexible",)


def clinic(**settings: str) -> Rows:
    """The rows; settings hold since day 0."""
    rows = accounts()
    for name, value in settings.items():
        rows.add("setting", site_id=1, setting_name=name, since=day(0), value=value)
    for _ in range(3):
        scanned(rows, treated(rows, PERCUTANEOUS, nights=1), None)
    scanned(rows, treated(rows, FLEXIBLE), None)
    failed = treated(rows, FLEXIBLE)
    scanned(rows, failed, 8.0)
    operated(rows, unit_of(rows, failed), 40, stage=None)
    treated(rows, FLEXIBLE)
    unpriced = treated(rows, FLEXIBLE)
    rows.used(unpriced, rows.scope(75, single_use="yes"))
    scanned(rows, unpriced, None)
    treated(rows, FLEXIBLE, on=350)
    treated(rows, FLEXIBLE, intent="drainage")
    rows.add("contact", patient_id=1, contacted_on=day(400), method="letter")
    return rows


def treated(rows: Rows, techniques: tuple[str, ...], on: int = 0, **values: Any) -> int:
    """A course of a new patient."""
    side = operated(rows, rows.unit(), on, **values)
    rows.tables["side_technique"][-1]["technique"] = techniques[0]
    return side


def unit_of(rows: Rows, side: int) -> int:
    return int(rows.tables["treated_side"][side - 1]["renal_unit_id"])


def scanned(rows: Rows, side: int, fragment_mm: float | None) -> None:
    """A thin CT of that side on day 30, with one fragment or none seen."""
    unit = unit_of(rows, side)
    patient = rows.tables["renal_unit"][unit - 1]["patient_id"]
    study = rows.add("examination", patient_id=patient, examined_on=day(30), modality="ct", slice_mm=1.0)
    finding = "none_seen" if fragment_mm is None else "fragments"
    reading = rows.add("reading", examination_id=study, renal_unit_id=unit, finding=finding)
    if fragment_mm is not None:
        rows.add(
            "fragment", reading_id=reading, kind="single", diameter_low_mm=fragment_mm, diameter_high_mm=fragment_mm
        )
