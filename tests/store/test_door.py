"""What the write door accepts, completes and refuses."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pandas as pd
import pytest
from sqlalchemy import func, select

from registry.schema.errors import GravelbookError
from registry.schema.fields import Note, info_of
from registry.schema.tables import metadata, ordered_tables
from registry.store.door import OWN_TABLES, Door, StaleRow
from registry.store.reading import read_frame
from registry.store.registry import Registry
from tests.store.filled import ROWS, values_of

PATIENT = {"study_number": "L-001", "birth_year": 1970}


def first_patient(door: Door, **more: Any) -> int:
    site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    return door.insert("patient", {"site_id": site, **PATIENT, **more})


def stored(registry: Registry, table: str, row: int) -> dict[str, Any]:
    with registry.reading() as connection:
        found = connection.execute(select(metadata.tables[table]).where(metadata.tables[table].c.id == row))
        return dict(found.mappings().one())


def count(registry: Registry, table: str) -> int:
    with registry.reading() as connection:
        return connection.execute(select(func.count()).select_from(metadata.tables[table])).scalar_one()


def test_every_table_takes_rows_and_gives_back_what_was_written(filled: Registry) -> None:
    rows = {t.name: [1, 2] for t in ordered_tables()}
    for table in ordered_tables():
        assert count(filled, table.name) >= ROWS
        if table.name in OWN_TABLES:
            continue
        frame = read_frame(filled, table.name, decrypt=True).set_index("id")
        for number in (1, 2):
            for name, value in values_of(table.name, number, rows).items():
                found = frame.loc[number, name]
                if value is not None:
                    if isinstance(value, date) and not isinstance(value, datetime):
                        found = found.date()
                    assert found == value, f"{table.name}.{name}"
                elif (table.name, name) != ("operation", "age_years"):
                    assert pd.isna(found), f"{table.name}.{name}"


def test_the_door_fills_in_who_when_and_which_revision(registry: Registry) -> None:
    before = datetime.now(UTC)
    with registry.writing(by="data manager") as door:
        patient = first_patient(door)
    row = stored(registry, "patient", patient)
    assert (row["created_by"], row["changed_by"], row["revision"], row["batch_id"]) == ("data manager",) * 2 + (1, None)
    assert before <= row["created_at"] <= datetime.now(UTC)
    with registry.writing(by="surgeon") as door:
        assert door.update("patient", patient, {"birth_year": 1971}, revision=1) == 2
    row = stored(registry, "patient", patient)
    assert (row["created_by"], row["changed_by"], row["revision"], row["birth_year"]) == (
        "data manager",
        "surgeon",
        2,
        1971,
    )


def test_defaults_are_taken_when_a_field_is_left_out(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door)
        unit = door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
    assert stored(registry, "renal_unit", unit)["unit_number"] == 1


def test_an_update_that_changes_nothing_writes_nothing(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door, note="seen")
    before = registry.head()
    with registry.writing(by="me") as door:
        assert door.update("patient", patient, {"birth_year": 1970, "note": "seen"}, revision=1) == 1
    assert registry.head() == before


def test_a_stale_revision_is_refused_and_nothing_is_saved(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door)
    with registry.writing(by="first") as door:
        door.update("patient", patient, {"birth_year": 1980}, revision=1)
    with pytest.raises(StaleRow, match="changed by first"), registry.writing(by="second") as door:
        door.insert("site", {"code": "X", "name": "X"})
        door.update("patient", patient, {"birth_year": 1990}, revision=1)
    assert stored(registry, "patient", patient)["birth_year"] == 1980
    assert count(registry, "site") == 1
    with pytest.raises(StaleRow), registry.writing(by="third") as door:
        door.withdraw("patient", patient, revision=1)


def test_an_error_leaves_nothing_behind(registry: Registry) -> None:
    before = registry.head()
    with pytest.raises(ZeroDivisionError), registry.writing(by="me") as door:
        first_patient(door)
        _ = 1 / 0
    assert registry.head() == before
    assert count(registry, "patient") == 0


@pytest.mark.parametrize(
    ("table", "values", "said"),
    [
        ("patient", {"colour": "red"}, "the table has no colour"),
        ("patient", {"revision": 3}, "the store itself writes revision"),
        ("hospital_number", {"number_index": "x"}, "the store itself writes number_index"),
        (
            "patient",
            {"birth_year": 1700},
            r"Year of birth\) must be a whole number from 1880 to 2200 year. 1700 is not",
        ),
        ("patient", {"birth_year": True}, "must be a whole number"),
        ("patient", {"birth_year": 1970.5}, "must be a whole number"),
        ("patient", {"sex": "x"}, "must be one of"),
        ("patient", {"study_number": None}, "is missing"),
        ("patient", {"study_number": "two\nlines"}, "on one line"),
        ("patient", {"study_number": "x" * 21}, "1 to 20 characters"),
        ("patient", {"research_use_since": "2024-02-31"}, "must be a date from 1900-01-01"),
        ("patient", {"research_use_since": datetime(2024, 1, 1, tzinfo=UTC)}, "must be a date"),
        ("patient", {"research_use_since": date(1850, 1, 1)}, "must be a date"),
        ("patient", {"site_id": 99}, "patient.site_id must be the key of a row of site"),
        ("patient", {"died_on": date(2024, 5, 2), "died_on_precision": "month"}, "first of the month"),
        ("patient", {"missing_reasons": "sex=forgotten;"}, "missing_reasons"),
        ("operation", {"height_cm": float("nan")}, "must be a number from 30 to 260 cm"),
        ("operation", {"started_at": datetime(2024, 1, 1)}, "time zone"),
        ("operation", {"patient_id": 99}, "operation.patient_id must be the key of a row of patient"),
        ("operation", {"patient_id": 99, "note": "x"}, "operation.patient_id must be the key of a row of patient"),
        ("nowhere", {}, "no table nowhere"),
        ("change_history", {}, "no table change_history"),
        ("patient_key", {}, "no table patient_key"),
    ],
)
def test_a_refusal_names_table_field_and_what_is_allowed(
    registry: Registry, table: str, values: dict[str, Any], said: str
) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door)
        complete = {
            "patient": {"site_id": 1, "study_number": "L-002"},
            "operation": {"patient_id": patient, "operated_on": date(2024, 5, 1), "purpose": "stone_removal"},
            "hospital_number": {"site_id": 1, "patient_id": patient, "number": "77"},
        }
    head = registry.head()
    with pytest.raises(GravelbookError, match=said), registry.writing(by="me") as door:
        door.insert(table, complete.get(table, {}) | values)
    assert registry.head() == head


def test_a_second_row_with_the_same_natural_key_is_refused_by_its_fields(registry: Registry) -> None:
    with (
        pytest.raises(GravelbookError, match="already with the same site_id, study_number"),
        registry.writing(by="me") as door,
    ):
        patient = first_patient(door)
        door.insert("patient", {"site_id": 1, "study_number": "L-001"})
    assert patient == 1


def test_a_refused_row_that_is_passed_over_saves_nothing(registry: Registry) -> None:
    with pytest.raises(GravelbookError), registry.writing(by="me") as door:
        first_patient(door)
        with pytest.raises(GravelbookError):
            door.insert("patient", {"site_id": 1, "study_number": "L-001"})
    assert count(registry, "site") == 0


def test_no_refusal_prints_an_identifying_value(registry: Registry) -> None:
    with pytest.raises(GravelbookError) as long, registry.writing(by="me") as door:
        first_patient(door)
        door.insert("hospital_number", {"site_id": 1, "patient_id": 1, "number": "9988776655" * 7})
    assert "9988776655" not in str(long.value)
    with pytest.raises(GravelbookError) as twice, registry.writing(by="me") as door:
        first_patient(door)
        door.insert("hospital_number", {"site_id": 1, "patient_id": 1, "number": "9988776655"})
        door.insert("hospital_number", {"site_id": 1, "patient_id": 1, "number": "998 877-6655"})
    assert "hospital_number has a row already" in str(twice.value)
    assert "9988776655" not in str(twice.value)


def test_nobody_writes_without_a_name(registry: Registry) -> None:
    for by in ("", "  ", "x" * 81):
        with pytest.raises(GravelbookError, match="By"), registry.writing(by=by):
            pass


def test_withdrawn_rows_go_and_their_keys_are_not_given_again(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door)
        door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
        right = door.insert("renal_unit", {"patient_id": patient, "unit": "right"})
    with registry.writing(by="me") as door:
        door.withdraw("renal_unit", right)
        assert door.insert("renal_unit", {"patient_id": patient, "unit": "right"}) == right + 1
        door.withdraw("renal_unit", right + 1)
    with registry.writing(by="me") as door:
        assert door.next_ids("renal_unit", 3) == right + 2
        assert door.next_ids("renal_unit") == right + 5


def test_a_row_that_others_lead_to_is_not_withdrawn(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door)
        door.insert("renal_unit", {"patient_id": patient, "unit": "left"})
    with pytest.raises(GravelbookError, match=r"renal_unit"), registry.writing(by="me") as door:
        door.withdraw("patient", patient)
    assert count(registry, "patient") == 1
    with registry.writing(by="me") as door:
        door.withdraw("renal_unit", 1)
        door.withdraw("patient", patient)
    assert (count(registry, "patient"), count(registry, "patient_key")) == (0, 0)


@pytest.mark.parametrize(
    ("identity", "birth_year", "operated_on", "age"),
    [
        ("1950-06-15", None, date(2024, 6, 14), 73),
        ("1950-06-15", None, date(2024, 6, 15), 74),
        ("1950-06-15", 1960, date(2024, 6, 15), 74),
        (None, 1960, date(2024, 6, 15), 64),
        (None, None, date(2024, 6, 15), None),
        (None, 2030, date(2024, 6, 15), None),
    ],
)
def test_the_age_is_worked_out_when_nobody_typed_it(
    registry: Registry, identity: str | None, birth_year: int | None, operated_on: date, age: int | None
) -> None:
    with registry.writing(by="me") as door:
        patient = first_patient(door, birth_year=birth_year)
        if identity:
            door.insert("patient_identity", {"patient_id": patient, "birth_date": identity})
        operation = {"patient_id": patient, "operated_on": operated_on, "purpose": "stone_removal"}
        blank = door.insert("operation", operation)
        typed = door.insert("operation", {**operation, "day_number": 2, "age_years": 33})
        said = door.insert("operation", {**operation, "day_number": 3, "missing_reasons": "age_years=not_recorded;"})
    assert stored(registry, "operation", blank)["age_years"] == age
    assert stored(registry, "operation", typed)["age_years"] == 33
    assert stored(registry, "operation", said)["age_years"] is None


def test_wording_follows_a_row_that_is_moved_to_another_patient(registry: Registry) -> None:
    from registry.store.cipher import owner_of_text

    with registry.writing(by="me") as door:
        first = first_patient(door)
        other = door.insert("patient", {"site_id": 1, "study_number": "L-002"})
        operation = door.insert(
            "operation",
            {"patient_id": first, "operated_on": date(2024, 5, 1), "purpose": "stone_removal", "note": "difficult"},
        )
        complication = door.insert("complication", {"operation_id": operation, "what": "fever", "note": "two days"})
    with registry.writing(by="me") as door:
        door.update("operation", operation, {"patient_id": other}, revision=1)
    for table, row, clear in (("operation", operation, "difficult"), ("complication", complication, "two days")):
        assert owner_of_text(stored(registry, table, row)["note"]) == other
        assert read_frame(registry, table, decrypt=True)["note"].tolist() == [clear]


def test_every_free_wording_is_stored_encrypted(filled: Registry) -> None:
    for table in ordered_tables():
        notes = [c.name for c in table.columns if isinstance(info_of(c).kind, Note)]
        if notes:
            frame = read_frame(filled, table.name, columns=notes)
            assert all(value.startswith("enc1:") for name in notes for value in frame[name].dropna())
