"""The chained history: what an entry holds, and that it is only ever added to."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlalchemy import Column, select
from sqlalchemy.exc import DatabaseError

from registry.schema.fields import Day, Reference, Text, info_of
from registry.schema.tables import metadata, ordered_tables
from registry.store import triggers
from registry.store.engine import connect
from registry.store.fingerprints import SIZE, Fingerprints
from registry.store.history import BEGINNING, HISTORY, Marks, entry_hash, stored_entries
from registry.store.registry import Registry
from tests.store.tampering import intruding


def entries(registry: Registry) -> list[Any]:
    with registry.reading() as connection:
        return [dict(entry) for entry in stored_entries(connection)]


def enter_and_change(registry: Registry) -> None:
    with registry.writing(by="me", reason="asked for by Dr Reed") as door:
        door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        door.insert("patient", {"site_id": 1, "study_number": "L-1", "note": "planted wording"})
    with registry.writing(by="you") as door:
        door.update("patient", 1, {"birth_year": 1960}, revision=1)
        door.withdraw("patient", 1)


def test_each_change_has_its_entry_with_images(registry: Registry) -> None:
    enter_and_change(registry)
    found = entries(registry)
    assert [(e["kind"], e["about_table"], e["about_row"], e["by"]) for e in found[1:]] == [
        ("insert", "site", 1, "me"),
        ("insert", "patient", 1, "me"),
        ("insert", "patient_key", 1, "me"),
        ("update", "patient", 1, "you"),
        ("withdraw", "patient_key", 1, "you"),
        ("withdraw", "patient", 1, "you"),
    ]
    before, after = json.loads(found[4]["before"]), json.loads(found[4]["after"])
    assert "birth_year" not in before
    assert (after["birth_year"], after["revision"], before["revision"]) == (1960, 2, 1)
    assert after["note"] == before["note"]
    assert after["note"].startswith("enc1:")
    assert found[6]["after"] is None


def test_each_entry_follows_from_the_one_before(registry: Registry) -> None:
    enter_and_change(registry)
    previous = BEGINNING
    for number, entry in enumerate(entries(registry), start=1):
        assert entry["id"] == number
        assert entry["previous_hash"] == previous
        assert entry["entry_hash"] == entry_hash(registry.keys, entry)
        previous = entry["entry_hash"]
    assert registry.head() == (number, previous)


def test_reasons_are_encrypted_and_can_be_read_back(registry: Registry) -> None:
    enter_and_change(registry)
    sealed = [e["reason"] for e in entries(registry)]
    assert "Reed" not in "".join(filter(None, sealed))
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        assert cipher.decrypt(sealed[1], "change_history", "reason") == "asked for by Dr Reed"
        # Reasons about a patient stand under the patient's key, which went with the withdrawn patient.
        assert cipher.decrypt(sealed[2], "change_history", "reason") == "(erased)"


def test_no_image_holds_a_wrapped_key_or_a_keyed_index(filled: Registry) -> None:
    keys, numbers = metadata.tables["patient_key"].c, metadata.tables["hospital_number"].c
    with filled.reading() as connection:
        secret = connection.execute(select(keys.wrapped_key)).scalars().all()
        secret = [*secret, *connection.execute(select(numbers.number_index)).scalars().all()]
    written = "".join(f"{e['before']}{e['after']}{e['fingerprints']}" for e in entries(filled))
    assert len(secret) == 4
    assert not [value for value in secret if value in written]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE change_history SET reason = NULL WHERE id = 1",
        "DELETE FROM change_history WHERE id = 2",
        "DELETE FROM change_history",
    ],
)
def test_the_database_itself_refuses_to_change_the_history(registry: Registry, statement: str) -> None:
    enter_and_change(registry)
    with (
        pytest.raises(DatabaseError, match="only ever added to"),
        connect(registry.engine, registry.location, writing=True) as connection,
        connection.begin(),
    ):
        connection.exec_driver_sql(statement)
    assert registry.head()[0] == 7


def test_the_database_itself_refuses_to_replace_or_empty_the_history(registry: Registry) -> None:
    enter_and_change(registry)
    sqlite = registry.location.file is not None
    statement = (
        "INSERT OR REPLACE INTO change_history SELECT * FROM change_history WHERE id = 2"
        if sqlite
        else "TRUNCATE change_history"
    )
    with (
        pytest.raises(DatabaseError, match="only ever added to"),
        connect(registry.engine, registry.location, writing=True) as connection,
        connection.begin(),
    ):
        connection.exec_driver_sql(statement)
    assert registry.head()[0] == 7


def test_the_revision_makes_the_very_triggers_that_are_looked_for(registry: Registry) -> None:
    with registry.reading() as connection:
        assert triggers.listed(connection) == triggers.expected(connection.dialect.name)


def test_marks_are_read_as_they_were_written() -> None:
    marks = Marks(
        {"patient": [(n, bytes([n]) * SIZE) for n in (1, 2, 3, 7, 9, 10)], "site": [(4, b"x" * SIZE)]},
        {"stone": [5, 6, 7, 11], "patient": [8]},
    )
    read = Marks.read(marks.written())
    assert read.left["patient"] == marks.left["patient"]
    assert read.left["site"] == marks.left["site"]
    assert read.gone == {"patient": [8], "stone": [5, 6, 7, 11], "site": []}
    assert read.count == marks.count == 12
    assert not Marks.read(None)


def test_a_row_has_the_same_fingerprint_on_both_engines(filled: Registry, fingerprints_seen: dict[str, Any]) -> None:
    """Times and ciphertext differ from registry to registry, so both are set to the same before they are compared."""
    fixed = bytes(32)
    with intruding(filled) as intruder:
        for table in ordered_tables():
            if table.name == "change_history":
                continue
            for name in ("created_at", "changed_at"):
                intruder.run(f"UPDATE {table.name} SET {name} = '2024-05-06T07:08:09.000120+00:00'")
            for column in table.columns:
                if column.info["field"].encrypted or column.name == "wrapped_key":
                    intruder.run(f"UPDATE {table.name} SET {column.name} = 'it''s ß;x=NULL'")
    with filled.reading() as connection:
        keys = type(filled.keys)(fixed, fixed, fixed, fixed)
        prints = Fingerprints(connection, keys)
        found = {table: list(prints.of_table(table)) for table in prints.tables()}
    assert len({value for rows in found.values() for value in rows}) == sum(map(len, found.values()))
    fingerprints_seen[connection.dialect.name] = found
    seen = list(fingerprints_seen.values())
    assert all(one == seen[0] for one in seen)
    # The form itself must never change unnoticed: old histories have to verify for ever.
    assert found["course"][0][1].hex() == "6a04635b95195544aa62d91081e2afd9"


@pytest.fixture(scope="module")
def fingerprints_seen() -> dict[str, Any]:
    return {}


def test_every_column_counts_in_the_fingerprint(filled: Registry) -> None:
    """Each value in turn is taken away or put in; the fingerprint must follow. Search indexes are proved otherwise."""
    with intruding(filled) as intruder:
        for table in ordered_tables():
            if table is HISTORY:
                continue
            others = [c for c in table.columns if c.name not in ("id",) and not c.name.endswith("_index")]
            prints = [fingerprint(filled, intruder, table.name)]
            for column in others:
                (kept,) = intruder.run(f"SELECT {column.name} FROM {table.name} WHERE id = 1")
                if not column.nullable:
                    other = another(intruder, column)
                    if other == kept[0]:
                        continue
                    intruder.run(f"UPDATE {table.name} SET {column.name} = ? WHERE id = 1", other)
                elif kept[0] is None:
                    continue
                else:
                    intruder.run(f"UPDATE {table.name} SET {column.name} = NULL WHERE id = 1")
                prints.append(fingerprint(filled, intruder, table.name))
                intruder.run(f"UPDATE {table.name} SET {column.name} = ? WHERE id = 1", kept[0])
                assert fingerprint(filled, intruder, table.name) == prints[0], column
            assert len(set(prints)) == len(prints), table.name


def another(intruder: Any, column: Column[Any]) -> Any:
    """Another value of a column, one that breaks no natural key."""
    kind = info_of(column).kind
    if isinstance(kind, Text):
        return "another"
    if isinstance(kind, Reference):
        return 99
    if isinstance(kind, Day):
        return "2024-07-01"  # right to whichever precision
    return intruder.run(f"SELECT {column.name} FROM {column.table.name} WHERE id = 2")[0][0]


def fingerprint(registry: Registry, intruder: Any, table: str) -> bytes:
    intruder.commit()
    with registry.reading() as connection:
        return Fingerprints(connection, registry.keys).of_row(table, 1)


def test_an_added_empty_column_leaves_fingerprints_as_they_were(filled: Registry) -> None:
    with filled.reading() as connection:
        before = list(Fingerprints(connection, filled.keys).of_table("stone"))
    with intruding(filled) as intruder:
        intruder.run("ALTER TABLE stone ADD COLUMN a_new_text TEXT")
        intruder.run(f"ALTER TABLE stone ADD COLUMN a_new_number {'REAL' if intruder.engine == 'sqlite' else 'FLOAT8'}")
    with filled.reading() as connection:
        assert list(Fingerprints(connection, filled.keys).of_table("stone")) == before
    with intruding(filled) as intruder:
        intruder.run("UPDATE stone SET a_new_number = 0.5 WHERE id = 2")
    with filled.reading() as connection:
        after = list(Fingerprints(connection, filled.keys).of_table("stone"))
    assert [a == b for a, b in zip(after, before, strict=True)] == [True, False]


def test_text_cannot_pass_for_the_separators_of_a_fingerprint(registry: Registry) -> None:
    """Two values that would read alike if their separators were taken at face value."""
    enter_and_change(registry)
    found = set()
    for code, name in (("A\x1fname='B'", "C"), ("A", "B'\x1fname='C"), ("A", "C\x1ftime_zone=NULL"), ("A", "C")):
        with intruding(registry) as intruder:
            intruder.run("UPDATE site SET code = ?, name = ? WHERE id = 1", code, name)
        with registry.reading() as connection:
            found.add(Fingerprints(connection, registry.keys).of_row("site", 1))
    assert len(found) == 4
