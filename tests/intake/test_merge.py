"""Two records of one patient become one, and two again."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from registry.intake.load import load_file
from registry.schema.errors import GravelbookError
from registry.schema.fields import info_of
from registry.schema.tables import metadata, ordered_tables
from registry.store.cipher import owner_of_text
from registry.store.erasing import erase_patient
from registry.store.merge_undo import undo_merge
from registry.store.merge_values import combined
from registry.store.merging import merge_patients
from registry.store.patient_lookup import patient_of
from registry.store.record_hash import record_hash
from registry.store.registry import Registry, open_registry
from registry.store.verify import verify
from registry.store.withdrawing import withdraw_batch
from tests.intake.books import IDENTITY, OPERATED, Rows, case
from tests.intake.test_amend import Books, rows_of

_KEEPING = ("revision", "changed_at", "changed_by")


@pytest.fixture
def registry(location: str) -> Iterator[Registry]:
    """An empty registry, once on each engine."""
    with open_registry(location) as opened:
        yield opened


@pytest.fixture
def book(tmp_path: Path) -> Books:
    """Writes files."""
    return Books(tmp_path)


def two_records() -> Rows:
    """A full case, and a second record of the same patient with an operation of the same day and one of another."""
    rows = {**case(), **{table: [dict(row) for row in lines] for table, lines in IDENTITY.items()}}
    other = {"study_number": "0042"}
    side = {**other, "operated_on": OPERATED, "unit": "left"}
    scan = {**other, "examined_on": date(2024, 6, 2), "modality": "ct"}
    rows["patient"][1] |= {"birth_year": 1960, "sex": "female", "condition": "cystinuria; immobility", "note": "n0042"}
    rows["patient"][0] |= {"last_known_alive_on": "2025-01"}
    rows["patient"][1] |= {"last_known_alive_on": date(2025, 2, 3), "stone_history": None}
    rows["renal_unit"].append({**other, "unit": "left", "prior_stone_surgery": "yes", "note": "unit of 0042"})
    rows["course"].append({**other, "unit": "left"})
    rows["operation"] += [
        {**other, "operated_on": OPERATED, "purpose": "stone_removal", "note": "operation of 0042"},
        {**other, "operated_on": date(2024, 7, 1), "purpose": "stone_removal"},
    ]
    rows["treated_side"].append({**side, "intent": "stone_removal", "course_number": 1, "note": "side of 0042"})
    rows["stone"].append({**other, "unit": "left", "course_number": 1, "stone_number": 1, "location": "pelvis"})
    rows["stone_aim"].append({**side, "course_number": 1, "stone_number": 1, "aim": "aimed_at"})
    rows["examination"].append({**scan})
    rows["reading"] += [
        {**scan, "unit": "left", "finding": "fragments", "wording": "reading of 0042"},
        {**scan, "unit": "right", "finding": "fragments"},
    ]
    rows["complication"].append({**side, "what": "fever", "onset_on": "2024-05", "note": "fever of 0042"})
    rows["contact"].append({**other, "contacted_on": date(2024, 8, 1), "note": "contact of 0042"})
    rows["patient_identity"].append({**other, "family_name": "Doe", "given_names": "Al", "birth_date": "1960-03-01"})
    rows["hospital_number"].append({**other, "number": "K-9"})
    return rows


def everything(registry: Registry) -> dict[str, list[dict[str, Any]]]:
    """All rows of all tables in clear, without who wrote them last; each wording with whose key it is under."""
    found: dict[str, list[dict[str, Any]]] = {}
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        for table in ordered_tables():
            if table.name in ("change_history", "patient_merge"):
                continue
            for stored in connection.execute(select(table).order_by(table.c.id)).mappings():
                row = {name: value for name, value in stored.items() if name not in _KEEPING}
                for column in table.columns:
                    if info_of(column).encrypted and row[column.name]:
                        text = row[column.name]
                        row[column.name] = (owner_of_text(text), cipher.decrypt(text, table.name, column.name))
                found.setdefault(table.name, []).append(row)
    return found


def patient(registry: Registry, study: str) -> int:
    with registry.reading() as connection:
        return patient_of(connection, study)


def merge(registry: Registry, kept: str = "1001", merged: str = "0042") -> None:
    one, other = patient(registry, kept), patient(registry, merged)
    with registry.writing(by="Jo", reason="one person") as door:
        merge_patients(door, one, other)
    assert verify(registry).findings == []


def undo(registry: Registry, kept: str = "1001", merged: str = "0042") -> None:
    one, other = patient(registry, kept), patient(registry, merged)
    with registry.writing(by="Jo", reason="two after all") as door:
        undo_merge(door, one, other)
    assert verify(registry).findings == []


def test_two_records_become_one(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    kept, empty = patient(registry, "1001"), patient(registry, "0042")
    now = everything(registry)
    assert {
        row["patient_id"] for table in now for row in now[table] if "patient_id" in row and table != "patient_key"
    } == {kept}
    assert sorted(row["unit"] for row in now["renal_unit"]) == ["left", "right"]
    left = next(row for row in now["renal_unit"] if row["unit"] == "left")
    assert (left["solitary"], left["prior_stone_surgery"], left["note"]) == ("no", "yes", (kept, "unit of 0042"))
    assert sorted((row["operated_on"], row["day_number"]) for row in now["operation"]) == [
        (OPERATED, 1),
        (OPERATED, 2),
        (date(2024, 7, 1), 1),
    ]
    assert sorted(row["course_number"] for row in now["course"]) == [1, 2]
    assert sorted(row["examination_number"] for row in now["examination"]) == [1, 2]
    assert sorted(row["condition"] for row in now["predisposition"]) == ["cystinuria", "hypercalciuria", "immobility"]
    owners = {value[0] for table in now for row in now[table] for value in row.values() if isinstance(value, tuple)}
    assert owners == {0, kept}  # the registry's own key is that of the file's name
    whole, rest = ({row["id"]: row for row in now["patient"]}[key] for key in (kept, empty))
    assert whole["note"] == (kept, "first line\nsecond line\nn0042")
    assert (whole["last_known_alive_on"], whole["last_known_alive_on_precision"]) == (date(2025, 2, 3), None)
    said = {name for name, value in rest.items() if value is not None}
    assert said == {"id", "site_id", "study_number", "created_at", "created_by", "batch_id"}
    assert now["patient_identity"][0]["given_names"] == (kept, "Al")


def test_either_hospital_number_finds_the_kept_record(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    assert registry.find_patient("LB", "h7712") == registry.find_patient("LB", "K 9") == patient(registry, "1001")
    undo(registry)
    assert registry.find_patient("LB", "K9") == patient(registry, "0042")


def test_undone_both_records_are_as_before(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    before, record = everything(registry), record_hash(registry)
    for _ in range(2):
        merge(registry)
        assert record_hash(registry) != record
        undo(registry)
        assert everything(registry) == before
        assert record_hash(registry) == record


def test_the_other_way_round(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    before = everything(registry)
    merge(registry, "0042", "1001")
    undo(registry, "0042", "1001")
    assert everything(registry) == before


def test_a_record_without_identity_takes_the_others(registry: Registry, book: Books) -> None:
    rows = two_records()
    rows["patient_identity"] = [row for row in rows["patient_identity"] if row["study_number"] == "0042"]
    load_file(registry, book(rows), by="loader")
    before = everything(registry)
    merge(registry)
    assert rows_of(registry, "patient_identity")[0]["patient_id"] == patient(registry, "1001")
    undo(registry)
    assert everything(registry) == before


@pytest.mark.parametrize(
    ("table", "row", "heading", "value", "named"),
    [
        ("patient", 1, "sex", "male", r"sex \(patient\)"),
        ("patient_identity", 1, "family_name", "Roe", r"family name \(identity\)"),
        ("renal_unit", 2, "solitary", "yes", r"solitary kidney \(renal unit\)"),
    ],
)
def test_records_that_contradict_each_other(
    table: str, row: int, heading: str, value: str, named: str, registry: Registry, book: Books
) -> None:
    rows = two_records()
    rows[table][row][heading] = value
    load_file(registry, book(rows), by="loader")
    head = registry.head()
    with pytest.raises(GravelbookError, match=named) as refused:
        merge(registry)
    assert value not in str(refused.value)
    assert registry.head() == head


def test_what_was_entered_since_stays_or_stands_in_the_way(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    kept = patient(registry, "1001")
    with registry.writing(by="Jo") as door:
        door.insert("contact", {"patient_id": kept, "contacted_on": date(2024, 9, 9)})
    undo(registry)
    assert len([row for row in rows_of(registry, "contact") if row["patient_id"] == kept]) == 2
    merge(registry)
    moved = next(row["id"] for row in rows_of(registry, "operation") if row["day_number"] == 2)
    left = next(row["id"] for row in rows_of(registry, "renal_unit") if row["unit"] == "left")
    with registry.writing(by="Jo", reason="came later") as door:
        values = {"operation_id": moved, "renal_unit_id": left, "what": "fever", "complication_number": 2}
        new = door.insert("complication", values)
    head = registry.head()
    with pytest.raises(GravelbookError, match=rf"row {new} of complication by renal_unit_id"):
        undo(registry)
    assert registry.head() == head


def test_a_correction_of_what_the_merge_wrote_is_not_lost(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    left = next(row for row in rows_of(registry, "renal_unit") if row["unit"] == "left")
    with registry.writing(by="Jo") as door:
        door.update("renal_unit", left["id"], {"prior_stone_surgery": "no"}, revision=left["revision"])
    with pytest.raises(GravelbookError, match="prior_stone_surgery in row"):
        undo(registry)


def test_merges_are_undone_last_first(registry: Registry, book: Books) -> None:
    rows = two_records()
    rows["patient"].append({"study_number": "7", "sex": "female"})
    load_file(registry, book(rows), by="loader")
    before = everything(registry)
    merge(registry)
    with pytest.raises(GravelbookError, match="merged into that of 1001 already"):
        merge(registry, "7", "0042")
    merge(registry, "7", "1001")
    with pytest.raises(GravelbookError, match="1001 was merged into 7 since"):
        undo(registry)
    undo(registry, "7", "1001")
    undo(registry)
    assert everything(registry) == before
    with pytest.raises(GravelbookError, match="is not merged"):
        undo(registry)


def test_a_batch_waits_for_the_merge_of_its_rows(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    with (
        pytest.raises(GravelbookError, match="1001 and 0042 were merged"),
        registry.writing(by="Jo", reason="no") as door,
    ):
        withdraw_batch(door, 1)
    undo(registry)
    with registry.writing(by="Jo", reason="no") as door:
        done = withdraw_batch(door, 1)
    assert (done.gone["patient"], done.gone["patient_merge"]) == (2, 1)
    assert verify(registry).findings == []
    assert set(everything(registry)) == {"batch"}


def test_erasing_the_kept_patient_leaves_no_wording_of_either(registry: Registry, book: Books) -> None:
    load_file(registry, book(two_records()), by="loader")
    merge(registry)
    with registry.writing(by="Jo", reason="asked for") as door:
        erase_patient(door, patient_of(door.connection, "1001"), "asked for")
    assert verify(registry).findings == []
    now = everything(registry)
    wordings = {
        v[1] for table in now if table != "batch" for row in now[table] for v in row.values() if isinstance(v, tuple)
    }
    assert wordings == {"(erased)"}
    with pytest.raises(GravelbookError, match="erased"):
        undo(registry)


def test_an_empty_record_changes_no_figure(registry: Registry, book: Books) -> None:
    from analysis.cohort.build import build
    from analysis.cohort.snapshot import current_snapshot
    from analysis.cohort.unit_settings import CohortSettings

    settings = CohortSettings({}, frozenset())
    load_file(registry, book(two_records()), by="loader")
    before = build(current_snapshot(registry), settings)
    with registry.writing(by="Jo") as door:  # what a merge leaves behind
        door.insert("patient", {"site_id": 1, "study_number": "9"})
    after = build(current_snapshot(registry), settings)
    assert before.frame.num_rows == 2
    assert after.frame.equals(before.frame)
    assert after.outcome.keys() == before.outcome.keys()
    assert all(after.outcome[name].equals(before.outcome[name]) for name in before.outcome)


def test_a_file_must_not_fill_the_empty_record(registry: Registry, book: Books) -> None:
    rows = two_records()
    load_file(registry, book(rows), by="loader")
    merge(registry)
    more: Rows = {"contact": [{"study_number": "0042", "contacted_on": date(2024, 9, 1)}]}
    loaded = load_file(registry, book(more), by="loader")
    assert [(f.rule, f.row) for f in loaded.findings] == [("patient.merged", 2)]
    assert "1001" in loaded.findings[0].why
    bare: Rows = {
        "patient": [{"study_number": "0042"}],
        "contact": [{"study_number": "1001", "contacted_on": OPERATED}],
    }
    assert load_file(registry, book(bare), by="loader").new == {"contact": 1}


def test_command(location: str, book: Books) -> None:
    from registry.intake.commands import intake

    with open_registry(location) as registry:
        load_file(registry, book(two_records()), by="loader")
    asked = ["merge", "1001", "0042", "--registry", location, "--by-whom", "Jo", "--reason", "one person"]
    done = CliRunner().invoke(intake, asked)
    assert done.exit_code == 0, done.output
    assert "merged into that of 1001" in done.output
    undone = CliRunner().invoke(intake, [*asked, "--undo"])
    assert undone.exit_code == 0, undone.output
    unknown = CliRunner().invoke(intake, ["merge", "1001", "9", "--registry", location, "--reason", "x"])
    assert isinstance(unknown.exception, GravelbookError)
    assert "study number 9" in str(unknown.exception)


def test_what_two_rows_say_together() -> None:
    blank: dict[str, Any] = {column.name: None for column in metadata.tables["patient"].columns}
    one = {**blank, "sex": "female", "missing_reasons": "birth_year=not_known;"}
    other = {**blank, "birth_year": 1960, "died_on": date(2025, 2, 1), "died_on_precision": "month", "as_typed": None}
    taken, against = combined("patient", one, other)
    assert against == []
    assert taken == {
        "birth_year": 1960,
        "died_on": date(2025, 2, 1),
        "died_on_precision": "month",
        "missing_reasons": None,
    }
    assert combined("patient", one, {**other, "sex": "male"})[1] == ["sex"]
    assert combined("patient", blank, one)[0] == {"sex": "female", "missing_reasons": "birth_year=not_known;"}
