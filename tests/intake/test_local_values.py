"""Values of a unit's own fields are held against the unit's own declarations, like any other cell."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from registry.intake.load import Loaded, load_file
from registry.intake.workbook_writer import write_workbook
from registry.schema.tables import metadata
from registry.store.record_hash import record_hash
from registry.store.registry import Registry
from registry.validation.findings import Severity
from tests.intake.books import CASE, OPERATED, Rows, write_book

FIELDS: dict[str, dict[str, Any]] = {
    "visits": {"kind": "whole", "low": 0, "high": 12},
    "fluid": {"kind": "number", "field_unit": "L", "low": 0, "high": 10},
    "diet": {"kind": "code", "choices": "low salt; low protein; refused"},
    "asked_on": {"kind": "day"},
    "nickname": {"kind": "text"},
}


def declared(name: str, belongs_to: str = "patient", **changes: Any) -> dict[str, Any]:
    return {"belongs_to": belongs_to, "field_name": name, "field_label": name.title(), **FIELDS[name], **changes}


def value_of(name: str, value: Any, belongs_to: str = "patient") -> dict[str, Any]:
    return {"belongs_to": belongs_to, "field_name": name, "study_number": "1001", "value": value}


def book(path: Path, *values: dict[str, Any], fields: list[dict[str, Any]] | None = None, **more: Any) -> Path:
    own = [declared(name) for name in FIELDS] if fields is None else fields
    rows: Rows = {**CASE, "local_field": own, "local_patient_value": list(values), **more}
    return write_book(path, {table: lines for table, lines in rows.items() if lines})


def stored(registry: Registry) -> dict[str, str]:
    field, value = metadata.tables["local_field"].c, metadata.tables["local_patient_value"].c
    query = select(field.field_name, value.value).where(field.id == value.local_field_id)
    with registry.reading() as connection:
        return {row[0]: row[1] for row in connection.execute(query)}


def errors(loaded: Loaded) -> list[tuple[str, str, str]]:
    return [(f.place, f.heading, f.rule) for f in loaded.findings if f.severity is Severity.ERROR]


RIGHT = [
    ("visits", 3, "3"),
    ("visits", "3", "3"),
    ("visits", 3.0, "3"),
    ("fluid", 1.5, "1.5"),
    ("fluid", "1,50", "1.5"),
    ("fluid", "2 L", "2"),
    ("diet", "Low Salt", "low salt"),
    ("diet", '"refused"', "refused"),
    ("diet", "refused", "refused"),
    ("asked_on", date(2031, 5, 3), "2031-05-03"),
    ("asked_on", "2024-5-3", "2024-05-03"),
    ("nickname", "=Sunny", "=Sunny"),
    ("nickname", '"not_done"', "not_done"),
]


@pytest.mark.parametrize(("name", "typed", "kept"), RIGHT)
def test_a_value_is_kept_in_one_plain_form(
    name: str, typed: Any, kept: str, registry: Registry, tmp_path: Path
) -> None:
    loaded = load_file(registry, book(tmp_path / "b.xlsx", value_of(name, typed)), by="test")
    assert errors(loaded) == []
    assert stored(registry) == {name: kept}


WRONG = [
    ("visits", 13, "within", "above the highest allowed, 12", "0 to 12"),
    ("visits", 2.5, "exact", "not a whole number", "2 or 3"),
    ("visits", "often", "type", "'often' is not a number", "a number"),
    ("fluid", -1, "within", "below the lowest allowed, 0 L", "0 to 10 L"),
    ("fluid", "1500 mL", "unit", "is in another unit than fluid is kept in", "a number in L"),
    ("fluid", date(2024, 1, 5), "type", "may have made it one", "a number"),
    ("diet", "low sald", "listed", "'low sald' is not on the list of diet", "perhaps low salt; one of: low salt"),
    ("asked_on", "03/04/2024", "type", "can be two days", "2024-04-03 or 2024-03-04"),
    ("asked_on", 45000, "type", "not a date", "year first"),
    ("nickname", "x" * 201, "length", "201 characters", "at most 200"),
    ("nickname", None, "required", "Value is blank", "always needed"),
    ("visits", "not_done", "required", "cannot be missing", "a whole number"),
]


@pytest.mark.parametrize(("name", "typed", "rule", "why", "right"), WRONG)
def test_a_value_that_its_field_does_not_allow(
    name: str, typed: Any, rule: str, why: str, right: str, registry: Registry, tmp_path: Path
) -> None:
    head = registry.head()
    loaded = load_file(registry, book(tmp_path / "b.xlsx", value_of(name, typed)), by="test")
    assert errors(loaded) == [("Local value, patient!D2", "value", f"local_patient_value.value.{rule}")]
    found = next(f for f in loaded.findings if f.rule.startswith("local_patient_value"))
    assert why in found.why
    assert right in found.right
    assert registry.head() == head


@pytest.mark.parametrize(
    ("changes", "heading", "rule"),
    [
        ({"kind": "code", "choices": None, "low": None, "high": None}, "choices", "local_field.choices.given"),
        ({"choices": "a; b"}, "choices", "local_field.choices.unused"),
        ({"kind": "code", "low": None, "high": None, "choices": "a; b; A"}, "choices", "local_field.choices.once"),
        ({"kind": "text", "high": None}, "low", "local_field.low.unused"),
        ({"low": 13}, "high", "local_field.low_to_high"),
        ({"kind": "colour"}, "kind", "local_field.kind.listed"),
    ],
)
def test_a_declaration_that_contradicts_itself(
    changes: dict[str, Any], heading: str, rule: str, registry: Registry, tmp_path: Path
) -> None:
    fields = [declared("visits", **changes)]
    loaded = load_file(registry, book(tmp_path / "b.xlsx", value_of("visits", "many"), fields=fields), by="test")
    # The value itself cannot be judged, so that nothing is said of it.
    assert [(place.split("!")[0], *rest) for place, *rest in errors(loaded)] == [("Local field", heading, rule)]


def test_a_value_in_the_sheet_of_another_subject(registry: Registry, tmp_path: Path) -> None:
    value = {**value_of("visits", 3), "operated_on": OPERATED}
    loaded = load_file(registry, book(tmp_path / "b.xlsx", local_operation_value=[value]), by="test")
    found = next(f for f in loaded.findings if f.severity is Severity.ERROR)
    assert (found.heading, found.rule) == ("belongs_to", "local_operation_value.local_field_id.belongs")
    assert "visits is a field of the patient; this sheet holds values of the operation" in found.why
    assert "sheet Local value, patient" in found.right


def test_a_field_that_nobody_declared(registry: Registry, tmp_path: Path) -> None:
    loaded = load_file(registry, book(tmp_path / "b.xlsx", value_of("pets", date(2024, 1, 1))), by="test")
    assert [rule for _, _, rule in errors(loaded)] == ["local_patient_value.local_field_id.exists"]


def test_fields_of_the_registry_count_and_every_kind_comes_back(
    two_engines: tuple[Registry, Registry], tmp_path: Path
) -> None:
    first, second = two_engines
    load_file(first, book(tmp_path / "fields.xlsx"), by="test")
    refused = write_book(tmp_path / "w.xlsx", {"local_patient_value": [value_of("visits", 13)]})
    assert [rule for _, _, rule in errors(load_file(first, refused, by="test"))] == ["local_patient_value.value.within"]
    typed = {"visits": 3, "fluid": 0.75, "diet": "refused", "asked_on": date(2024, 5, 3), "nickname": '"pending"'}
    values = write_book(
        tmp_path / "v.xlsx", {"local_patient_value": [value_of(name, value) for name, value in typed.items()]}
    )
    assert load_file(first, values, by="test").new == {"local_patient_value": 5}
    assert set(stored(first).values()) == {"3", "0.75", "refused", "2024-05-03", "pending"}
    written = write_workbook(first, tmp_path / "all.xlsx")
    assert written.lost == []
    assert errors(load_file(second, tmp_path / "all.xlsx", by="test")) == []
    assert record_hash(first) == record_hash(second)
    again = load_file(first, tmp_path / "all.xlsx", by="test")
    assert (again.new, errors(again)) == ({}, [])


def test_what_the_registry_declares_goes_before_what_the_file_says(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, book(tmp_path / "fields.xlsx"), by="test")
    wider = [declared("visits", high=100)]
    loaded = load_file(registry, book(tmp_path / "w.xlsx", value_of("visits", 50), fields=wider), by="test")
    assert [rule for _, _, rule in errors(loaded)] == ["row.differs", "local_patient_value.value.within"]
