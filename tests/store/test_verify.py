"""Every way of changing a registry past its door is found, and the row is named."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import Table, select

from registry.schema.base import model_of
from registry.schema.fields import Reference, info_of
from registry.schema.tables import metadata, ordered_tables
from registry.store import history
from registry.store.erasing import erase_patient
from registry.store.keys import Keys
from registry.store.registry import Registry
from registry.store.verify import Finding, verify
from tests.store.filled import fill
from tests.store.tampering import Intruder, intruding

TABLES = [t for t in ordered_tables() if t.name != "change_history"]


def named(findings: list[Finding]) -> set[tuple[str, int | None]]:
    return {(f.table, f.row) for f in findings}


def test_an_untouched_registry_holds(filled: Registry) -> None:
    with filled.writing(by="me", reason="a reason") as door:
        door.update("patient", 1, {"birth_year": 1955, "note": "new wording"}, revision=1)
        door.withdraw("side_event", 2)
        first = door.next_ids("side_event", 3)
        rows = [
            {"id": first + n, "treated_side_id": 1, "event_number": 5 + n, "event": "bleeding", "note": f"n{n}"}
            for n in range(3)
        ]
        door.load_batch(file_hash="h", file_name="a.xlsx", tables={"side_event": rows})
        erase_patient(door, 2, "asked for")
    seen: list[str] = []
    found = verify(filled, [filled.head(), (1, first_hash(filled)), (0, "")], seen.append)
    assert found.findings == []
    assert found.holds
    assert found.head == filled.head()
    assert found.entries == filled.head()[0]
    assert found.rows == sum(count(filled, table.name) for table in TABLES)
    assert set(seen) == {t.name for t in TABLES} | {"change history"}
    assert found.summary.endswith("all as recorded.")


def first_hash(registry: Registry) -> str:
    with registry.reading() as connection:
        return str(connection.execute(select(history.HISTORY.c.entry_hash).where(history.HISTORY.c.id == 1)).scalar())


def count(registry: Registry, table: str) -> int:
    with registry.reading() as connection:
        return int(connection.exec_driver_sql(f"SELECT count(*) FROM {table}").scalar_one())


def test_one_changed_value_is_found_in_every_table(filled: Registry) -> None:
    with intruding(filled) as intruder:
        for table in TABLES:
            intruder.run(f"UPDATE {table.name} SET changed_by = 'nobody' WHERE id = 1")
    found = verify(filled)
    assert named(found.findings) == {(t.name, 1) for t in TABLES}
    assert {f.what for f in found.findings} == {"the row was changed outside this program"}


def test_a_deleted_row_is_found_in_every_table(filled: Registry) -> None:
    with intruding(filled) as intruder:
        for table in TABLES:
            intruder.run(f"DELETE FROM {table.name} WHERE id = 2")
    found = verify(filled)
    deleted = [f for f in found.findings if "deleted" in f.what]
    assert named(deleted) == {(t.name, 2) for t in TABLES}
    assert named(found.findings) - named(deleted) <= {("hospital_number", 1), ("patient_identity", 1)}


def test_two_swapped_rows_are_found_in_every_table(filled: Registry) -> None:
    with intruding(filled) as intruder:
        for table in TABLES:
            for old, new in ((1, -1), (2, 1), (-1, 2)):
                intruder.run(f"UPDATE {table.name} SET id = {new} WHERE id = {old}")
    assert {(t.name, row) for t in TABLES for row in (1, 2)} == named(verify(filled).findings)


def test_a_forged_row_is_found_in_every_table(filled: Registry) -> None:
    with intruding(filled) as intruder:
        for table in TABLES:
            forge(intruder, table)
    found = verify(filled)
    assert named([f for f in found.findings if "not entered" in f.what]) == {(t.name, 99) for t in TABLES}


def forge(intruder: Intruder, table: Table) -> None:
    columns = intruder.columns(table.name)
    (row,) = intruder.run(f'SELECT {", ".join(columns)} FROM "{table.name}" WHERE id = 1')
    values = dict(zip(columns, row, strict=True)) | {"id": 99}
    first = model_of(table).key_fields[0]
    values[first] = 99 if isinstance(info_of(table.columns[first]).kind, Reference) else "forged"
    intruder.run(
        f'INSERT INTO "{table.name}" ({", ".join(columns)}) VALUES ({", ".join("?" * len(columns))})',
        *values.values(),
    )


def test_swapped_ciphertext_is_found_in_every_field(filled: Registry) -> None:
    expected = set()
    with intruding(filled) as intruder:
        for table in TABLES:
            for column in table.columns:
                if info_of(column).encrypted or column.name == "wrapped_key":
                    expected |= {(table.name, 1), (table.name, 2)}
                    one, two = (
                        intruder.run(f"SELECT {column.name} FROM {table.name} WHERE id = {n}")[0][0] for n in (1, 2)
                    )
                    intruder.run(f"UPDATE {table.name} SET {column.name} = ? WHERE id = 1", two)
                    intruder.run(f"UPDATE {table.name} SET {column.name} = ? WHERE id = 2", one)
    assert expected <= named(changed_rows(filled))
    assert len(expected) > 40


def changed_rows(registry: Registry) -> list[Finding]:
    return [f for f in verify(registry).findings if "changed outside" in f.what]


@pytest.mark.parametrize(
    ("table", "index"), [("hospital_number", "number_index"), ("theatre_list_line", "hospital_number_index")]
)
def test_a_changed_search_index_is_found(filled: Registry, table: str, index: str) -> None:
    with intruding(filled) as intruder:
        intruder.run(f"UPDATE {table} SET {index} = 'elsewhere' WHERE id = 1")
        intruder.run(f"UPDATE {table} SET {index} = NULL WHERE id = 2")
    assert named(verify(filled).findings) == {(table, 1), (table, 2)}


def test_missing_and_altered_triggers_are_found(filled: Registry) -> None:
    with intruding(filled) as intruder:
        intruder.drop_triggers()
    names = {f.what.split()[2] for f in verify(filled).findings}
    assert names >= {"change_history_no_update", "change_history_no_delete"}
    assert len(names) == 3
    with intruding(filled) as intruder:
        intruder.put_triggers_back()
    assert verify(filled).holds
    with intruding(filled) as intruder:
        disable(intruder)
    assert ["trigger" in f.what for f in verify(filled).findings] == [True]


def disable(intruder: Intruder) -> None:
    """The trigger stays in the list of triggers and does nothing."""
    if intruder.engine == "postgresql":
        intruder.run("ALTER TABLE change_history DISABLE TRIGGER change_history_no_delete")
    else:
        intruder.run("DROP TRIGGER change_history_no_delete")
        intruder.run("CREATE TRIGGER change_history_no_delete BEFORE DELETE ON change_history BEGIN SELECT 1; END")


EDITS = {
    "by": "'somebody else'",
    "at": "'2001-01-01T00:00:00.000000+00:00'",
    "kind": "'erasure'",
    "about_table": "'stone'",
    "about_row": "77",
    "before": "'{}'",
    "after": "NULL",
    "reason": "NULL",
    "row_count": "5",
    "content_before": "'x'",
    "content_after": "'x'",
    "fingerprints": "NULL",
    "previous_hash": "'x'",
    "entry_hash": "'x'",
}


def test_every_field_of_the_history_is_covered() -> None:
    assert EDITS.keys() == set(history.HISTORY.columns.keys()) - {"id"}


def test_every_edit_of_an_entry_is_found_after_the_triggers_are_back(filled: Registry) -> None:
    edited = {20 + 2 * n: column for n, column in enumerate(EDITS)}
    with intruding(filled) as intruder:
        intruder.drop_triggers()
        for entry, column in edited.items():
            intruder.run(f'UPDATE change_history SET "{column}" = {EDITS[column]} WHERE id = {entry}')
        intruder.put_triggers_back()
    found = named([f for f in verify(filled).findings if f.table == "change_history"])
    assert {("change_history", entry) for entry in edited} <= found
    # An entry with another hash parts from the one after it as well.
    parted = next(entry for entry, column in edited.items() if column == "entry_hash") + 1
    assert found - {("change_history", entry) for entry in edited} == {("change_history", parted)}


def test_a_change_with_a_history_to_match_is_found(filled: Registry) -> None:
    """Somebody changes a row and writes the whole chain anew, with every hash right but for the key."""
    other = Keys.derived(bytes(32))
    with filled.reading() as connection:
        entries = [dict(entry) for entry in history.stored_entries(connection)]
    with intruding(filled) as intruder:
        intruder.drop_triggers()
        intruder.run("UPDATE stone SET length_mm = 1 WHERE id = 1")
        previous = history.BEGINNING
        for entry in entries:
            entry["previous_hash"] = previous
            previous = history.entry_hash(other, entry)
            intruder.run(
                "UPDATE change_history SET previous_hash = ?, entry_hash = ? WHERE id = ?",
                entry["previous_hash"],
                previous,
                entry["id"],
            )
        intruder.put_triggers_back()
    found = verify(filled)
    assert named(found.findings) == {("change_history", e["id"]) for e in entries} | {("stone", 1)}


@pytest.mark.parametrize("renumbered", [False, True])
def test_an_entry_taken_from_the_middle_is_found(filled: Registry, renumbered: bool) -> None:
    with intruding(filled) as intruder:
        intruder.drop_triggers()
        (about,) = intruder.run("SELECT about_table, about_row FROM change_history WHERE id = 30")
        intruder.run("DELETE FROM change_history WHERE id = 30")
        if renumbered:
            (last,) = intruder.run("SELECT max(id) FROM change_history")
            for entry in range(31, last[0] + 1):
                intruder.run(f"UPDATE change_history SET id = {entry - 1} WHERE id = {entry}")
        intruder.put_triggers_back()
    found = named(verify(filled).findings)
    assert ("change_history", 30 if renumbered else 31) in found
    assert tuple(about) in found


def test_a_tail_cut_off_with_its_rows_is_found_by_an_anchor(filled: Registry) -> None:
    early, late = filled.head(), None
    with filled.writing(by="me") as door:
        door.insert("site", {"code": "NEW", "name": "New"})
        door.insert("site", {"code": "NEWER", "name": "Newer"})
    late = filled.head()
    with intruding(filled) as intruder:
        intruder.drop_triggers()
        intruder.run("DELETE FROM site WHERE id > 2")
        intruder.run(f"DELETE FROM change_history WHERE id > {early[0]}")
        intruder.put_triggers_back()
    assert verify(filled, [early]).holds
    found = verify(filled, [early, late])
    assert [f.table for f in found.findings] == ["change_history"]
    assert "its end was cut off" in found.findings[0].what
    with filled.writing(by="me") as door:
        door.insert("site", {"code": "OTHER", "name": "Other"})
        door.insert("site", {"code": "OTHERS", "name": "Others"})
    assert verify(filled, [early]).holds
    assert named(verify(filled, [early, late]).findings) == {("change_history", late[0])}


def test_a_tail_cut_off_without_its_rows_is_found_without_an_anchor(filled: Registry) -> None:
    with filled.writing(by="me") as door:
        site = door.insert("site", {"code": "NEW", "name": "New"})
    with intruding(filled) as intruder:
        intruder.drop_triggers()
        intruder.run("DELETE FROM change_history WHERE id = (SELECT max(id) FROM change_history)")
        intruder.put_triggers_back()
    assert named(verify(filled).findings) == {("site", site)}


def test_a_dropped_table_is_found_row_by_row(filled: Registry) -> None:
    with intruding(filled) as intruder:
        intruder.run("DROP TABLE filled_site")
    assert named(verify(filled).findings) == {("filled_site", 1), ("filled_site", 2)}


def test_rows_of_a_batch_are_proved_too(registry: Registry) -> None:
    with registry.writing(by="me") as door:
        rows = fill(door)
        first = door.next_ids("stone", 200)
        stones = [{"id": first + n, "course_id": rows["course"][n % 2], "stone_number": 5 + n // 2} for n in range(180)]
        door.load_batch(file_hash="h", file_name=None, tables={"stone": stones})
    assert verify(registry).holds
    with intruding(registry) as intruder:
        intruder.run(f"UPDATE stone SET length_mm = 4.5 WHERE id = {first + 100}")
        intruder.run(f"DELETE FROM stone WHERE id = {first + 7}")
        intruder.run("UPDATE batch SET row_count = 3 WHERE row_count = 180")
    found = named(verify(registry).findings)
    assert found == {("stone", first + 100), ("stone", first + 7), ("batch", 3)}


def test_findings_hold_no_values(filled: Registry) -> None:
    with intruding(filled) as intruder:
        intruder.run("UPDATE patient SET study_number = 'PLANTED' WHERE id = 1")
        intruder.run("UPDATE hospital_number SET number = 'PLANTED', number_index = 'PLANTED'")
    said = json.dumps([str(f) for f in verify(filled).findings])
    assert "PLANTED" not in said
    assert "1 study_number" not in said
    assert set(metadata.tables) > {f.table for f in verify(filled).findings}
