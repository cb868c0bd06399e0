"""A small invented unit's equipment with known results. Days count from 1 January 2024.

Single-use scope M1: six opened on six patients, one with a lost image, one that cannot be told; the ureter was too
tight for one. Reusable scope M2 with two pieces: piece 1 was new, ran 4 operations, failed in its third, was repaired
once; piece 2 had 30 uses before, ran 2 operations, one of them on both sides. One use of M2 names no piece. A sheath M3
of another kind broke and has to be reported. The last date is day 400.
"""

from __future__ import annotations

from typing import Any

from tests.cohort.rows import Rows, day

DI = "51022222233336"
OTHER_DI = "08904000210037"
LABEL = f"(01){DI}(17)300101(10)L100(21)K-77"


def store_room() -> Rows:
    rows = Rows()
    single = rows.scope(75, single_use="yes", device_identifier=DI)
    reusable = rows.scope(85, single_use="no", device_identifier=OTHER_DI)
    sheath = rows.sheath(100, single_use="yes")
    _single_use(rows, single)
    _reusable(rows, reusable)
    side = rows.side(on=60)
    broken = {"failure_mode": "shaft_fracture", "failure_stage": "in_operation", "failure_consequence": "delay"}
    rows.used(side, sheath, "failed", reason="broken", reportable="yes", retained="yes", delay_min=10, **broken)
    rows.side(on=70)  # nothing is recorded of what was used
    rows.add("contact", patient_id=1, contacted_on=day(400))
    return rows


def _single_use(rows: Rows, model: int) -> None:
    died = rows.unit(rows.patient(died_on=day(90), died_on_precision=None))
    refused = rows.unit(rows.patient(research_use="no", not_to_be_contacted="yes"))
    uses: list[tuple[dict[str, Any], int | None]] = [
        ({"lot": "L100", "serial_as_scanned": "K-77", "udi": LABEL}, died),
        ({"lot": "l-100"}, refused),
        ({"lot": "L200", "result": "exchanged", "failure_mode": "image_lost", "failure_stage": "in_operation"}, None),
        ({"udi": f"01{DI}10L100214711", "result": "failed"}, None),
        ({"result": "failed", "reason": "tight_ureter"}, None),
        ({"lot": "L300", "udi": LABEL.replace("L100", "L300")}, None),
    ]
    for at, (use, unit) in enumerate(uses):
        rows.used(rows.side(unit, on=at), model, **use)


def _reusable(rows: Rows, model: int) -> None:
    new = rows.add("equipment_item", equipment_model_id=model, serial="N-1", acquired_on=day(-10), uses_before=0)
    old = rows.add("equipment_item", equipment_model_id=model, serial="O-1", retired_on=day(200), uses_before=30)
    for at in range(4):
        failure = {"failure_mode": "deflection_lost", "reportable": "unsure"} if at == 2 else {}
        rows.used(
            rows.side(on=20 + at), model, equipment_item_id=new, reported_on=day(30) if failure else None, **failure
        )
    rows.add("repair", equipment_item_id=new, repair_number=1, repaired_on=day(28))
    patient = rows.patient()
    operation = rows.operation(patient, on=40)
    for unit in ("left", "right"):
        side = rows.side(rows.unit(patient, unit), operation=operation)
        rows.used(side, model, equipment_item_id=old)
    rows.used(rows.side(on=41), model, equipment_item_id=old)
    rows.used(rows.side(on=42), model)
