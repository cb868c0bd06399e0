"""Loading a workbook: all or nothing, once, whatever the order of its rows."""

from __future__ import annotations

import random
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import func, select

from registry.intake.load import load_file
from registry.intake.template import write_template
from registry.schema.errors import GravelbookError
from registry.schema.tables import metadata
from registry.store.record_hash import record_hash
from registry.store.registry import Registry
from tests.intake.books import CASE, IDENTITY, Rows, case, with_cell, write_book
from tests.intake.conftest import MakeRegistry


def count(registry: Registry, table: str) -> int:
    with registry.reading() as connection:
        return int(connection.execute(select(func.count()).select_from(metadata.tables[table])).scalar_one())


def one(registry: Registry, table: str, column: str) -> object:
    with registry.reading() as connection:
        return connection.execute(select(metadata.tables[table].c[column])).scalars().first()


def test_a_workbook_is_loaded_with_its_links_and_defaults(registry: Registry, tmp_path: Path) -> None:
    loaded = load_file(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}), by="test", reason="first load")
    assert loaded.batch_id is not None
    assert loaded.new["patient"] == count(registry, "patient") == 2
    assert loaded.new["predisposition"] == count(registry, "predisposition") == 2
    assert one(registry, "operation", "day_number") == 1
    assert one(registry, "operation", "operating_min") == 90
    assert one(registry, "operation", "as_typed") == "operating_min=1.5 h;"
    assert one(registry, "operation", "missing_reasons") == "height_cm=not_done;"
    assert one(registry, "operation", "age_years") == 64
    assert str(one(registry, "operation", "started_at")) == "2024-05-03 07:30:00+00:00"
    assert one(registry, "equipment_item", "serial") == "0007"
    assert one(registry, "complication", "onset_on") == date(2024, 5, 1)
    assert one(registry, "complication", "onset_on_precision") == "month"
    with registry.reading() as connection:
        side, stone = metadata.tables["treated_side"], metadata.tables["fragment"]
        assert connection.execute(select(side.c.course_id)).scalar() == 1
        assert connection.execute(select(stone.c.stone_id)).scalar() == 1
    assert registry.find_patient("LB", "h7712") is not None


def test_the_same_file_twice_changes_nothing(registry: Registry, tmp_path: Path) -> None:
    path = write_book(tmp_path / "b.xlsx", CASE)
    load_file(registry, path, by="test")
    head, record = registry.head(), record_hash(registry)
    again = load_file(registry, path, by="test")
    assert again.seen_before
    assert again.batch_id is None
    assert (registry.head(), record_hash(registry)) == (head, record)


def test_the_same_rows_in_another_file_change_nothing(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}), by="test")
    head = registry.head()
    rows = {**case(), **IDENTITY}
    rows["patient"].reverse()
    again = load_file(registry, write_book(tmp_path / "c.xlsx", rows), by="test")
    assert (again.batch_id, again.errors, again.seen_before) == (None, 0, False)
    assert again.there["patient"] == 2
    assert again.there["hospital_number"] == 1
    assert registry.head() == head


def test_new_rows_beside_old_ones_are_loaded(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    rows = case()
    rows["contact"].append({"study_number": "0042", "contacted_on": date(2024, 9, 1)})
    loaded = load_file(registry, write_book(tmp_path / "c.xlsx", rows), by="test")
    assert loaded.new == {"contact": 1}
    assert loaded.there["contact"] == 1


def test_rows_may_lead_to_rows_of_the_registry(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    rows: Rows = {"contact": [{"study_number": "0042", "contacted_on": date(2024, 9, 1)}]}
    loaded = load_file(registry, write_book(tmp_path / "c.xlsx", rows), by="test")
    assert loaded.new == {"contact": 1}
    with registry.reading() as connection:
        contact, patient = metadata.tables["contact"].c, metadata.tables["patient"].c
        numbers = select(patient.study_number).where(patient.id == contact.patient_id).order_by(contact.id)
        assert connection.execute(numbers).scalars().all() == ["1001", "0042"]


@pytest.mark.parametrize(
    ("table", "heading", "value", "held"),
    [
        ("stone", "length_mm", 15, "14.25 mm"),
        ("patient", "sex", "male", "female"),
        ("patient", "condition", "cystinuria", "cystinuria; hypercalciuria"),
        ("patient", "died_on", "2025-02-01", "2025-02"),
        ("operation", "height_cm", 170, "not_done"),
        ("operation", "operating_min", "2 h", "90 min"),
        ("treated_side", "course_number", None, ""),
    ],
)
def test_a_row_that_differs_from_the_registry(
    table: str, heading: str, value: object, held: str, registry: Registry, tmp_path: Path
) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    head = registry.head()
    loaded = load_file(registry, write_book(tmp_path / "c.xlsx", with_cell(table, heading, value)), by="test")
    found = [f for f in loaded.findings if f.rule == ("row.differs" if value is not None else "row.stays")]
    assert [f.heading for f in found] == [heading]
    assert held in found[0].why
    assert loaded.errors == (1 if value is not None else 0)
    assert registry.head() == head


def test_a_note_that_differs_is_not_shown(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}), by="test")
    rows = with_cell("patient", "note", "other words", rows={**CASE, **IDENTITY})
    rows = with_cell("patient_identity", "family_name", "Roe", rows=rows)
    loaded = load_file(registry, write_book(tmp_path / "c.xlsx", rows), by="test")
    differs = [f for f in loaded.findings if f.rule == "row.differs"]
    assert [f.heading for f in differs] == ["note", "family_name"]
    assert not any(word in str(differs) for word in ("line", "other words", "Doe", "Roe"))


def test_a_hospital_number_of_another_patient(registry: Registry, tmp_path: Path) -> None:
    load_file(registry, write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY}), by="test")
    rows = {"hospital_number": [{"study_number": "0042", "number": "H7712"}]}
    loaded = load_file(registry, write_book(tmp_path / "c.xlsx", rows), by="test")
    assert [f.rule for f in loaded.findings] == ["hospital_number.other_patient"]
    assert "7712" not in str(loaded.findings)


def test_an_error_in_the_last_sheet_leaves_everything_as_it_was(registry: Registry, tmp_path: Path) -> None:
    head = registry.head()
    rows = {**CASE, "patient_identity": [{"study_number": "1001", "birth_date": "31/12/1960"}]}
    loaded = load_file(registry, write_book(tmp_path / "b.xlsx", rows), by="test")
    assert loaded.errors == 1
    assert registry.head() == head
    assert count(registry, "site") == 0


def test_the_order_of_rows_and_columns_changes_nothing(make_registry: MakeRegistry, tmp_path: Path) -> None:
    first, second = make_registry(), make_registry()
    rows = case()
    rows["contact"] += [{"study_number": "0042", "contacted_on": date(2024, 8, day)} for day in range(1, 20)]
    load_file(first, write_book(tmp_path / "b.xlsx", rows), by="test")
    shuffled: Rows = {}
    source = random.Random(5)
    for table in sorted(rows, reverse=True):
        shuffled[table] = [
            dict(source.sample(sorted(r.items()), len(r))) for r in source.sample(rows[table], len(rows[table]))
        ]
    loaded = load_file(second, write_book(tmp_path / "c.xlsx", shuffled), by="test")
    assert loaded.errors == 0
    assert record_hash(first) == record_hash(second)


def test_a_workbook_without_rows_is_refused(registry: Registry, tmp_path: Path) -> None:
    write_template(tmp_path / "t.xlsx")
    with pytest.raises(GravelbookError, match=r"holds no rows \(\d+ example rows"):
        load_file(registry, tmp_path / "t.xlsx", by="test")


def test_what_another_person_wrote_meanwhile_is_taken_into_account(registry: Registry, tmp_path: Path) -> None:
    def interfere(stage: str, done: int, total: int) -> None:
        if count(registry, "site") == 0:
            with registry.writing(by="other") as door:
                door.insert("site", {"code": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"})

    loaded = load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test", progress=interfere)
    assert loaded.there["site"] == 1
    assert "site" not in loaded.new
    assert count(registry, "site") == 1


def test_a_registry_that_is_always_being_written_to_is_left_alone(registry: Registry, tmp_path: Path) -> None:
    def interfere(stage: str, done: int, total: int) -> None:
        with registry.writing(by="other") as door:
            door.insert("site", {"code": f"S{count(registry, 'site')}", "name": "Elsewhere"})

    rows: Rows = {"site": CASE["site"]}
    with pytest.raises(GravelbookError, match="Others wrote to the registry"):
        load_file(registry, write_book(tmp_path / "b.xlsx", rows), by="test", progress=interfere)
    with registry.reading() as connection:
        codes = connection.execute(select(metadata.tables["site"].c.code)).scalars().all()
    assert "LB" not in codes


def test_two_sites_keep_their_patients_apart(registry: Registry, tmp_path: Path) -> None:
    rows: Rows = {
        "site": [{"site": "LB", "name": "Larkspur Bay"}, {"site": "HM", "name": "Heron Mill"}],
        "patient": [{"site": "LB", "study_number": "1"}, {"site": "HM", "study_number": "1"}],
        "contact": [{"site": "HM", "study_number": "1", "contacted_on": date(2024, 9, 1)}],
    }
    load_file(registry, write_book(tmp_path / "b.xlsx", rows), by="test")
    with registry.reading() as connection:
        site, patient, contact = (metadata.tables[name] for name in ("site", "patient", "contact"))
        joined = site.join(patient, patient.c.site_id == site.c.id).join(contact, contact.c.patient_id == patient.c.id)
        assert connection.execute(select(site.c.code).select_from(joined)).scalars().all() == ["HM"]


def test_a_site_that_the_registry_knows_in_part(registry: Registry, tmp_path: Path) -> None:
    with registry.writing(by="test") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
    loaded = load_file(registry, write_book(tmp_path / "b.xlsx", CASE), by="test")
    found = next(f for f in loaded.findings if f.rule == "row.differs")
    assert (loaded.errors, found.heading) == (1, "time_zone")
    assert "is blank here" in found.why
    assert found.right.startswith("a blank cell.")
    assert "--time-zone" in found.right


def test_a_time_zone_that_does_not_exist(registry: Registry, tmp_path: Path) -> None:
    site = [{"site": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisboa"}]
    loaded = load_file(registry, write_book(tmp_path / "b.xlsx", {"site": site}), by="test")
    found = loaded.findings[0]
    assert (loaded.errors, found.place, found.rule) == (1, "Site!C2", "site.time_zone.known")
    assert found.right == "perhaps Europe/Lisbon"
