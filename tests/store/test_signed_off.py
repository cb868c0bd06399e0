"""A case that was declared complete changes only with a reason."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from registry.schema.errors import GravelbookError
from registry.store.reading import read_frame
from registry.store.registry import Registry


def signed_off_case(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        patient = door.insert("patient", {"site_id": site, "study_number": "L-001", "birth_year": 1970})
        operation = door.insert(
            "operation", {"patient_id": patient, "operated_on": date(2024, 5, 1), "purpose": "stone_removal"}
        )
        unit = door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
        door.insert("treated_side", {"operation_id": operation, "renal_unit_id": unit, "intent": "stone_removal"})
        door.insert("drain", {"renal_unit_id": unit, "placed_on": date(2024, 5, 1), "kind": "stent"})
        door.update("operation", operation, {"signed_off_by": "head", "signed_off_at": datetime.now(UTC)}, revision=1)


CHANGES = [
    lambda door: door.update("operation", 1, {"room_min": 90}, revision=2),
    lambda door: door.update("treated_side", 1, {"suction": None, "planned_dwell_d": 3}, revision=1),
    lambda door: door.withdraw("treated_side", 1),
    lambda door: door.insert("side_technique", {"treated_side_id": 1, "technique": "flexible"}),
    lambda door: door.update("drain", 1, {"operation_id": 1}, revision=1),
    lambda door: door.load_batch(
        file_hash="f",
        file_name=None,
        tables={"lithotripsy_setting": [{"id": 1, "treated_side_id": 1, "energy_source": "holmium_laser"}]},
    ),
]


@pytest.mark.parametrize("change", CHANGES[:4])
def test_a_signed_off_case_changes_only_with_a_reason(registry: Registry, change: Any) -> None:
    signed_off_case(registry)
    head = registry.head()
    for reason in (None, " "):
        with (
            pytest.raises(GravelbookError, match="Operation 1 was signed off"),
            registry.writing(by="me", reason=reason) as door,
        ):
            change(door)
    assert registry.head() == head
    with registry.writing(by="me", reason="typed wrongly") as door:
        change(door)
    assert registry.head() != head


def test_a_batch_into_a_signed_off_case_needs_a_reason(registry: Registry) -> None:
    signed_off_case(registry)
    with pytest.raises(GravelbookError, match="Operation 1 was signed off"), registry.writing(by="me") as door:
        CHANGES[5](door)
    with registry.writing(by="me", reason="from the laser's log") as door:
        CHANGES[5](door)
    assert len(read_frame(registry, "lithotripsy_setting")) == 1


def test_what_follows_a_signed_off_case_is_entered_unasked(registry: Registry) -> None:
    signed_off_case(registry)
    with registry.writing(by="me") as door:
        door.insert("complication", {"operation_id": 1, "what": "fever"})
        door.update("patient", 1, {"died_on": date(2024, 6, 1)}, revision=1)
    assert len(read_frame(registry, "complication")) == 1
