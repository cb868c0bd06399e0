"""The data dictionary says what the declarations say, in three forms."""

from __future__ import annotations

import csv
import io
import json

from registry.schema.dictionary import HEADINGS, as_csv, as_markdown, as_table_schema, entries
from registry.schema.fields import Code, info_of
from registry.schema.tables import metadata, ordered_tables


def test_one_entry_for_each_column() -> None:
    columns = [(table.name, column.name) for table in ordered_tables() for column in table.columns]
    assert [(entry["table"], entry["field"]) for entry in entries()] == columns


def test_csv_holds_the_same_entries() -> None:
    assert list(csv.DictReader(io.StringIO(as_csv()))) == entries()
    assert next(csv.reader(io.StringIO(as_csv()))) == HEADINGS


def test_limits_and_units_are_those_that_people_type() -> None:
    found = {(entry["table"], entry["field"]): entry for entry in entries()}
    shaft = found["equipment_model", "shaft_tenths_fr"]
    assert (shaft["typed_unit"], shaft["stored_unit"], shaft["limits"]) == ("Fr", "tenths of Fr", "0.5 to 40 Fr")
    assert found["patient_identity", "family_name"]["in_snapshots"] == "no"
    assert found["treated_side", "note"]["in_snapshots"] == "no"


def test_markdown_has_a_section_for_each_table_and_a_row_for_each_field() -> None:
    text = as_markdown()
    for table in ordered_tables():
        assert f"(`{table.name}`)" in text
    assert text.count("\n| `") == sum(len(table.columns) for table in ordered_tables())


def test_table_schema_follows_the_open_specification() -> None:
    """Table Schema, Frictionless Data specification v1: field types, constraints, primary and foreign keys."""
    allowed = {"string", "integer", "number", "date", "datetime"}
    constraints = {"required", "enum", "minimum", "maximum"}
    resources = json.loads(as_table_schema())["resources"]
    names = {resource["name"] for resource in resources}
    for resource in resources:
        schema = resource["schema"]
        fields = {field["name"]: field for field in schema["fields"]}
        assert schema["primaryKey"] == ["id"] and "id" in fields
        for field in fields.values():
            assert field["type"] in allowed
            assert set(field["constraints"]) <= constraints
        for key in schema["foreignKeys"]:
            assert set(key["fields"]) <= set(fields) and key["reference"]["resource"] in names
    modality = metadata.tables["examination"].columns["modality"]
    kind = info_of(modality).kind
    assert isinstance(kind, Code)
    examination = next(r for r in resources if r["name"] == "examination")
    listed = next(f for f in examination["schema"]["fields"] if f["name"] == "modality")
    assert listed["constraints"]["enum"] == kind.list.codes()


def test_the_dictionary_says_which_days_may_lie_ahead() -> None:
    found = {(entry["table"], entry["field"]): entry["limits"] for entry in entries()}
    assert found["operation", "operated_on"] == "1900-01-01 to today"
    ahead = {key for key, limits in found.items() if "may lie after today" in limits}
    assert {("drain", "planned_removal_on"), ("examination", "examined_on"), ("theatre_list_line", "listed_on")} < ahead
