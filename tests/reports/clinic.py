"""A small invented unit with known results, as rows of a registry. Days count from 1 January 2024.

Operator S1: four sides on thin CT, of which three are clear, one of these with a 3 mm fragment; one never scanned.
Operator S2: two sides, one clear, one with an ultrasound that shows 6 mm. One drainage; one operation too late to be
due. The last date is day 400.
"""

from __future__ import annotations

from typing import Any

from ..cohort.rows import Rows, day


def clinic(**settings: str) -> Rows:
    """The rows; settings hold since day 0."""
    rows = Rows()
    for name, value in settings.items():
        rows.add("setting", site_id=1, setting_name=name, since=day(0), value=value)
    first, second = rows.operator("S1"), rows.operator("S2")
    for size in (None, None, 3.0, 8.0):
        scanned(rows, operated(rows, first, largest_mm=9.0), "ct", size)
    operated(rows, first, largest_mm=15.0)
    scanned(rows, operated(rows, second, largest_mm=25.0, technique="mini_percutaneous"), "ct", None)
    scanned(rows, operated(rows, second, technique="mini_percutaneous"), "ultrasound", 6.0)
    operated(rows, second, intent="drainage")
    operated(rows, first, on=390)
    rows.add("contact", patient_id=1, contacted_on=day(400))
    return rows


def operated(
    rows: Rows,
    operator: int,
    *,
    on: int = 0,
    intent: str = "stone_removal",
    technique: str = "flexible",
    largest_mm: float | None = None,
) -> int:
    """One side of a new patient with its course, its stone and its operator."""
    unit = rows.unit()
    course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, on, intent=intent, techniques=(technique,), course_id=course, stage_number=0)
    rows.operated(side, operator)
    if largest_mm is not None:
        stone = rows.add("stone", course_id=course, length_mm=largest_mm)
        rows.add("stone_aim", stone_id=stone, treated_side_id=side, aim="aimed_at")
    return side


def scanned(rows: Rows, side: int, modality: str, fragment_mm: float | None) -> None:
    """A study of that side on day 30 with one fragment, or none seen."""
    unit = rows.tables["treated_side"][side - 1]["renal_unit_id"]
    patient = rows.tables["renal_unit"][unit - 1]["patient_id"]
    more: dict[str, Any] = {"slice_mm": 1.0} if modality == "ct" else {}
    study = rows.add("examination", patient_id=patient, examined_on=day(30), modality=modality, **more)
    finding = "none_seen" if fragment_mm is None else "fragments"
    reading = rows.add("reading", examination_id=study, renal_unit_id=unit, finding=finding)
    if fragment_mm is not None:
        size = {"diameter_low_mm": fragment_mm, "diameter_high_mm": fragment_mm}
        rows.add("fragment", reading_id=reading, kind="single", **size)
