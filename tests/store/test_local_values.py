"""The door holds values of a unit's own fields against the declarations of those fields."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.door import Door
from registry.store.registry import Registry

FIELDS: dict[str, dict[str, Any]] = {
    "visits": {"kind": "whole", "low": 0, "high": 12},
    "fluid": {"kind": "number", "field_unit": "L", "low": 0, "high": 10},
    "diet": {"kind": "code", "choices": "low salt; low protein"},
    "asked_on": {"kind": "day"},
    "side": {"kind": "text", "belongs_to": "treated_side"},
}


def declare(door: Door) -> tuple[int, dict[str, int]]:
    site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    common = {"site_id": site, "belongs_to": "patient"}
    fields = {
        name: door.insert("local_field", {**common, "field_name": name, "field_label": name, **more})
        for name, more in FIELDS.items()
    }
    return door.insert("patient", {"site_id": site, "study_number": "1"}), fields


def values(registry: Registry) -> list[str]:
    value = metadata.tables["local_patient_value"].c
    with registry.reading() as connection:
        return list(connection.execute(select(value.value).order_by(value.id)).scalars())


RIGHT = [
    ("visits", "012", "12"),
    ("fluid", "1.50", "1.5"),
    ("diet", "low salt", "low salt"),
    ("asked_on", "2024-05-03", "2024-05-03"),
]


@pytest.mark.parametrize("batch", [False, True])
def test_a_value_is_kept_in_one_plain_form(batch: bool, registry: Registry) -> None:
    with registry.writing(by="test") as door:
        patient, fields = declare(door)
        rows = [{"local_field_id": fields[name], "patient_id": patient, "value": typed} for name, typed, _ in RIGHT]
        if batch:
            first = door.next_ids("local_patient_value", len(rows))
            numbered = [{"id": first + n, **row} for n, row in enumerate(rows)]
            door.load_batch(file_hash="h", file_name=None, tables={"local_patient_value": numbered})
        else:
            for row in rows:
                door.insert("local_patient_value", row)
    assert values(registry) == [kept for _, _, kept in RIGHT]


WRONG = [
    ("visits", "13", "a whole number from 0 to 12"),
    ("visits", "1.5", "a whole number from 0 to 12"),
    ("fluid", "nan", "a number from 0 to 10 L"),
    ("fluid", "much", "a number from 0 to 10 L"),
    ("diet", "low fat", "one of low salt, low protein"),
    ("asked_on", "03/04/2024", "a date from"),
    ("side", "left", "belongs to treated_side, not to patient"),
]


@pytest.mark.parametrize("batch", [False, True])
@pytest.mark.parametrize(("name", "value", "words"), WRONG)
def test_a_value_that_its_field_does_not_allow(
    name: str, value: str, words: str, batch: bool, registry: Registry
) -> None:
    with registry.writing(by="test") as door:
        patient, fields = declare(door)
        row = {"local_field_id": fields[name], "patient_id": patient, "value": value}
        with pytest.raises(GravelbookError, match=words):
            if batch:
                row["id"] = door.next_ids("local_patient_value")
                door.load_batch(file_hash="h", file_name=None, tables={"local_patient_value": [row]})
            else:
                door.insert("local_patient_value", row)


def test_a_change_is_held_against_the_field_too(registry: Registry) -> None:
    with registry.writing(by="test") as door:
        patient, fields = declare(door)
        row = door.insert(
            "local_patient_value", {"local_field_id": fields["fluid"], "patient_id": patient, "value": "2"}
        )
        with pytest.raises(GravelbookError, match="a number from 0 to 10 L"):
            door.update("local_patient_value", row, {"value": "20"}, revision=1)
        assert door.update("local_patient_value", row, {"value": "2.0"}, revision=1) == 1  # nothing differs
        assert door.update("local_patient_value", row, {"value": "3"}, revision=1) == 2
    assert values(registry) == ["3"]


def test_a_batch_may_bring_the_field_and_its_value(registry: Registry) -> None:
    with registry.writing(by="test") as door:
        patient, _ = declare(door)
        field, value = door.next_ids("local_field"), door.next_ids("local_patient_value")
        new = {"id": field, "site_id": 1, "belongs_to": "patient", "field_name": "pets", "field_label": "Pets"}
        tables = {
            "local_patient_value": [{"id": value, "local_field_id": field, "patient_id": patient, "value": "2"}],
            "local_field": [{**new, "kind": "whole"}],
        }
        door.load_batch(file_hash="h", file_name=None, tables=tables)
    assert values(registry) == ["2"]
