"""A small registry with something in most tables, and names where names may stand."""

from __future__ import annotations

from typing import Any

from tests.cohort.rows import Rows, day

# Words that must not get into a snapshot; each is planted in a field that identifies a person or is free wording.
PLANTED = ("Plantedname", "Plantedgiven", "1950-02-03", "HN-445566", "plantednote", "SERIAL-778899", "plantedlot")


def filled() -> Rows:
    """Two patients, three operations, two sheaths, a scan, an imprecise retreatment elsewhere."""
    rows = Rows()
    first = rows.patient(sex="female", birth_year=1950, note=f"{PLANTED[4]} of the patient", died_on=day(700))
    second = rows.patient(sex="male", birth_year=1980, research_use="no")
    left, right = rows.unit(first, "left", anatomy="normal"), rows.unit(first, "right")
    other = rows.unit(second, "left", lost_on=day(366), lost_on_precision="year")
    course = rows.add("course", renal_unit_id=left)
    operation = rows.operation(first, 10, height_cm=170.5, weight_kg=65.2, asa_class="2", note=PLANTED[4])
    side = rows.side(left, operation=operation, course_id=course, stage_number=0, conduct="completed", suction="none")
    rows.side(right, operation=operation, techniques=("semirigid", "flexible"))
    stage = rows.add("planned_stage", course_id=course, stage_number=1, decided_on=day(10))
    rows.later(left, day(60).replace(day=1), occurred_on_precision="month", planned_stage_id=stage, note=PLANTED[4])
    third = rows.side(other, 20)
    operator = rows.operator("X1", flexible=12)
    for each in (side, third):
        rows.operated(each, operator, grade="consultant")
    stone = rows.add("stone", course_id=course, length_mm=12.5, width_mm=7.25, location="lower_calyx")
    rows.add("stone_aim", treated_side_id=side, stone_id=stone, aim="aimed_at")
    sheath, scope = rows.sheath(100, 120), rows.scope(75)
    item = rows.add("equipment_item", equipment_model_id=scope, serial=PLANTED[5])
    rows.used(side, sheath)
    rows.used(side, scope, equipment_item_id=item, lot=PLANTED[6], note=PLANTED[4])
    rows.add("lithotripsy_setting", treated_side_id=side, energy_source="holmium_laser", total_energy_kj=3.75)
    examination = rows.add("examination", patient_id=first, examined_on=day(40), modality="ct", slice_mm=1.0)
    reading = rows.add(
        "reading", examination_id=examination, renal_unit_id=left, finding="fragments", wording=PLANTED[4]
    )
    rows.add("fragment", reading_id=reading, kind="single", diameter_low_mm=2.5, diameter_high_mm=2.5)
    rows.add("examination", patient_id=second, examined_on=day(50), modality="kub")
    rows.add("contact", patient_id=second, contacted_on=day(55), note=PLANTED[4])
    return rows


def identify(registry: Any) -> None:
    """Names and numbers for the first patient."""
    with registry.writing(by="tester") as door:
        door.insert(
            "patient_identity",
            {"patient_id": 1, "family_name": PLANTED[0], "given_names": PLANTED[1], "birth_date": PLANTED[2]},
        )
        door.insert("hospital_number", {"site_id": 1, "patient_id": 1, "number": PLANTED[3]})
