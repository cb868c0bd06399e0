"""Many rows at once: written like single ones, with one entry, or not at all."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from sqlalchemy import func, select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.door import Door
from registry.store.reading import read_frame
from registry.store.registry import Registry


def count(registry: Registry, table: str) -> int:
    with registry.reading() as connection:
        return connection.execute(select(func.count()).select_from(metadata.tables[table])).scalar_one()


def batch_of_cases(door: Door, patients: int) -> dict[str, list[dict[str, Any]]]:
    ids = {
        t: door.next_ids(t, patients)
        for t in ("patient", "patient_identity", "hospital_number", "operation", "renal_unit", "treated_side")
    }
    made: dict[str, list[dict[str, Any]]] = {table: [] for table in reversed(ids)}  # children first, on purpose
    for n in range(patients):
        patient, operation, unit = ids["patient"] + n, ids["operation"] + n, ids["renal_unit"] + n
        made["patient"].append(
            {"id": patient, "site_id": 1, "study_number": f"B{n}", "birth_year": 1950, "note": f"n{n}"}
        )
        made["patient_identity"].append(
            {"id": ids["patient_identity"] + n, "patient_id": patient, "birth_date": "1950-12-31" if n else None}
        )
        made["hospital_number"].append(
            {"id": ids["hospital_number"] + n, "site_id": 1, "patient_id": patient, "number": f"H-{n}"}
        )
        made["operation"].append(
            {
                "id": operation,
                "patient_id": patient,
                "operated_on": date(2024, 5, 1),
                "purpose": "stone_removal",
                "weight_kg": 71,
            }
        )
        made["renal_unit"].append({"id": unit, "patient_id": patient, "unit": "left"})
        made["treated_side"].append(
            {
                "id": ids["treated_side"] + n,
                "operation_id": operation,
                "renal_unit_id": unit,
                "intent": "stone_removal",
                "note": f"side {n}",
            }
        )
    return made


def test_a_batch_is_written_like_single_rows_with_one_entry(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    length, _ = registry.head()
    with registry.writing(by="loader") as door:
        batch = door.load_batch(file_hash="ab" * 32, file_name="May.xlsx", tables=batch_of_cases(door, 5))
    assert registry.head()[0] == length + 1
    sides = read_frame(registry, "treated_side", decrypt=True)
    assert sides["note"].tolist() == [f"side {n}" for n in range(5)]
    assert sides["batch_id"].tolist() == [batch] * 5
    assert sides["created_by"].tolist() == ["loader"] * 5
    assert read_frame(registry, "operation")["age_years"].tolist() == [74, 73, 73, 73, 73]
    assert read_frame(registry, "operation")["weight_kg"].tolist() == [71.0] * 5
    assert read_frame(registry, "renal_unit")["unit_number"].tolist() == [1] * 5
    assert registry.find_patient("LB", "h3") == read_frame(registry, "patient")["id"][3]
    loaded = read_frame(registry, "batch", decrypt=True)
    assert (loaded["file_name"][0], loaded["row_count"][0]) == ("May.xlsx", 30)
    with pytest.raises(GravelbookError, match="loaded already"), registry.writing(by="me") as door:
        door.load_batch(file_hash="ab" * 32, file_name=None, tables={})


@pytest.mark.parametrize(
    ("table", "change", "said"),
    [
        ("patient", {"birth_year": 1500}, r"Row 3 of the batch: patient.birth_year"),
        ("patient", {"site_id": 44}, r"site"),
        ("patient", {"sex": "x"}, "patient.sex"),
        ("patient", {"colour": "red"}, "no colour"),
        ("patient", {"study_number": "a\x1fb"}, "patient.study_number"),
        ("patient", {"id": 2}, "a key of its own"),
        ("operation", {"weight_kg": float("nan")}, "operation.weight_kg"),
        ("operation", {"purpose": None}, "operation.purpose"),
        ("treated_side", {"operation_id": 44}, "operation"),
    ],
)
def test_a_batch_with_one_wrong_row_is_refused_whole(
    registry: Registry, table: str, change: dict[str, Any], said: str
) -> None:
    with registry.writing(by="me") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    head = registry.head()
    with pytest.raises(GravelbookError, match=said), registry.writing(by="me") as door:
        tables = batch_of_cases(door, 4)
        tables[table][2].update(change)
        door.load_batch(file_hash="x", file_name=None, tables=tables)
    assert registry.head() == head
    assert count(registry, "patient") == count(registry, "batch") == 0
