"""A small invented unit whose scores and outcomes are known, as rows of a registry. Days count from 1 January 2024.

Percutaneous: ten sides of grade 1, of which eight are free; ten of grade 2 (upper calyx), of which four are; six of
grade 3 (partial staghorn, sites recorded), of which one is; one without anatomy; one never scanned, of grade 1.
Flexible: one lower-pole stone with an angle, one without, one ureteric stone. One drainage. The last date is day 400.
"""

from __future__ import annotations

from typing import Any

from ...cohort.rows import Rows, day
from ..clinic import scanned

LARGEST = 9.0


def unit(**settings: str) -> Rows:
    """The rows; settings hold since day 0."""
    rows = Rows()
    for name, value in settings.items():
        rows.add("setting", site_id=1, setting_name=name, since=day(0), value=value)
    for at in range(10):
        scanned(rows, treated(rows, "pelvis"), "ct", 6.0 if at < 2 else None)
    for at in range(10):
        scanned(rows, treated(rows, "upper_calyx"), "ct", 6.0 if at < 6 else None)
    for at in range(6):
        side = treated(rows, "partial_staghorn", sites=("pelvis", "inferior_major"))
        scanned(rows, side, "ct", 6.0 if at < 5 else None)
    scanned(rows, treated(rows, "pelvis", anatomy=None), "ct", None)
    treated(rows, "pelvis")
    flexible: dict[str, Any] = {"technique": "flexible", "infundibular_length_mm": 22.0}
    angle = {"infundibulopelvic_angle_deg": 28, "angle_method": "retrograde"}
    scanned(rows, treated(rows, "lower_calyx", **flexible, **angle), "ct", 5.0)
    scanned(rows, treated(rows, "lower_calyx", **flexible), "ct", None)
    treated(rows, "distal_ureter", **flexible)
    treated(rows, None, intent="drainage")
    rows.add("contact", patient_id=1, contacted_on=day(400))
    return rows


def treated(
    rows: Rows,
    place: str | None,
    *,
    technique: str = "percutaneous",
    anatomy: str | None = "normal",
    sites: tuple[str, ...] = (),
    **side: Any,
) -> int:
    """A side of a new patient, with one stone of 9 by 6 mm at a place unless that is None."""
    patient = rows.patient()
    kidney = rows.unit(patient, anatomy=anatomy)
    operation = rows.operation(patient, spinal_disease="no")
    course = rows.add("course", renal_unit_id=kidney)
    made = rows.side(
        kidney,
        operation=operation,
        techniques=(technique,),
        course_id=course,
        stage_number=0,
        **{"hydronephrosis": "none", **side},
    )
    if place is not None:
        stone = rows.add(
            "stone", course_id=course, location=place, length_mm=LARGEST, width_mm=6.0, depth_mm=5.0,
            attenuation_hu=800, attenuation_method="mean_region", skin_to_stone_mm=85.0,
        )  # fmt: skip
        rows.add("stone_aim", stone_id=stone, treated_side_id=made, aim="aimed_at")
        for site in sites:
            rows.add("filled_site", stone_id=stone, site_filled=site)
    return made
