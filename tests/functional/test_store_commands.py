"""The life of a registry at the command line, on both engines."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from registry.store.registry import open_registry
from registry.store.revisions import head_revision, known_revisions
from registry.store.upgrade import migrating, move
from tests import postgres
from tests.command_line import gravelbook as run
from tests.conftest import need_server
from tests.migrations.test_rows_survive import rows_of
from tests.store.filled import fill


@pytest.fixture
def filled(location: str) -> str:
    with open_registry(location) as registry, registry.writing(by="filler", reason="rows") as door:
        fill(door)
    return location


def test_create_says_where_the_key_is_and_never_overwrites(tmp_path: Path) -> None:
    place = str(tmp_path / "unit.db")
    said = run("store", "create", "--registry", place, "--site", "LB")
    assert said.status == 0 and "unit.db.key" in said.out and "apart" in said.out
    before = Path(place).read_bytes()
    again = run("store", "create", "--registry", place)
    assert again.status == 1 and "Nothing is overwritten" in again.err.replace("\n", " ")
    assert Path(place).read_bytes() == before


def test_status_counts_rows_in_three_forms(filled: str) -> None:
    text = run("store", "status", "--registry", filled)
    assert text.status == 0 and head_revision() in text.out and "treated_side" in text.out
    table = run("store", "status", "--registry", filled, "--format", "csv")
    assert "treated_side,2" in table.out.splitlines()
    whole = json.loads(run("store", "status", "--registry", filled, "--format", "json").out)
    assert whole["rows"]["treated_side"] == 2 and whole["revision"] == head_revision()


def test_verify_leaves_with_status_1_and_names_the_row(filled: str) -> None:
    assert run("store", "verify", "--registry", filled).status == 0
    with open_registry(filled) as registry, registry.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE stone SET width_mm = 9.25 WHERE id = 2")
    found = run("store", "verify", "--registry", filled, "--format", "json")
    assert found.status == 1
    assert [(f["table"], f["row"]) for f in json.loads(found.out)["findings"]] == [("stone", 2)]
    assert "9.25" not in found.out


def test_a_backup_restores_to_either_engine_with_the_same_rows(
    filled: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup = tmp_path / "monday.db"
    made = run("store", "backup", str(backup), "--registry", filled)
    assert made.status == 0, made.err
    with open_registry(filled) as registry:
        head = registry.head()
        key = registry.location.file and f"{registry.location.file}.key"
    manifest = json.loads((tmp_path / "monday.db.manifest.json").read_text())
    assert (manifest["history_length"], manifest["history_head"]) == head
    if key:
        monkeypatch.setenv("GRAVELBOOK_KEY_FILE", key)
    restored = tmp_path / "restored.db"
    said = run("store", "restore", str(backup), "--registry", str(restored))
    assert said.status == 0, said.err
    with open_registry(str(restored)) as registry:
        assert registry.head() == head
    need_server()
    with postgres.fresh_database() as url:
        assert run("store", "restore", str(backup), "--registry", url).status == 0
        proof = run("store", "verify", "--registry", url, "--against", str(tmp_path / "monday.db.manifest.json"))
        assert proof.status == 0, proof.out + proof.err
        with open_registry(url) as registry:
            assert registry.head() == head
            with registry.writing(by="someone", reason="life goes on") as door:
                door.insert("site", {"code": "NEW", "name": "New"})
        refused = run("store", "restore", str(backup), "--registry", url)
        assert refused.status == 1 and "already" in refused.err


def test_a_lost_tail_is_found_against_a_backups_manifest(location: str, tmp_path: Path) -> None:
    with open_registry(location) as registry:
        with registry.writing(by="someone", reason="first") as door:
            door.insert("site", {"code": "A", "name": "A"})
        with registry.writing(by="someone", reason="second") as door:
            door.insert("site", {"code": "B", "name": "B"})
    run("store", "backup", str(tmp_path / "b.db"), "--registry", location)
    with open_registry(location) as registry, registry.engine.begin() as connection:
        if connection.dialect.name == "sqlite":
            connection.exec_driver_sql("DROP TRIGGER change_history_no_delete")
        else:
            connection.exec_driver_sql("ALTER TABLE change_history DISABLE TRIGGER USER")
        connection.exec_driver_sql("DELETE FROM change_history WHERE id = 3")
        connection.exec_driver_sql("DELETE FROM site WHERE code = 'B'")
        if connection.dialect.name == "sqlite":
            from registry.store.triggers import TRIGGERS

            again = next(t for t in TRIGGERS["sqlite"] if "no_delete" in t)
            connection.exec_driver_sql(again)
        else:
            connection.exec_driver_sql("ALTER TABLE change_history ENABLE TRIGGER USER")
    assert run("store", "verify", "--registry", location).status == 0, "nothing inside can tell"
    found = run("store", "verify", "--registry", location, "--against", str(tmp_path / "b.db.manifest.json"))
    assert found.status == 1 and "its end was cut off" in found.out


def test_a_damaged_backup_is_refused(filled: str, tmp_path: Path) -> None:
    backup = tmp_path / "b.db"
    run("store", "backup", str(backup), "--registry", filled)
    with backup.open("r+b") as stream:
        stream.seek(-100, 2)
        stream.write(b"x")
    said = run("store", "restore", str(backup), "--registry", str(tmp_path / "c.db"))
    assert said.status == 1 and "changed or cut short" in said.err.replace("\n", " ")
    assert not (tmp_path / "c.db").exists()


def test_upgrade_backs_up_first_and_brings_every_row_along(filled: str, tmp_path: Path) -> None:
    with open_registry(filled) as registry, registry.reading() as connection:
        (entries, _), rows = registry.head(), rows_of(connection)
    down = run(
        "store", "upgrade", "--registry", filled, "--to", known_revisions()[4],
        "--backup", str(tmp_path / "new-shape.db"),
    )  # fmt: skip
    assert down.status == 0, down.err
    assert run("store", "status", "--registry", filled).status == 1
    up = run("store", "upgrade", "--registry", filled, "--backup", str(tmp_path / "old-shape.db"))
    assert up.status == 0 and "old-shape.db" in up.out, up.err
    assert (tmp_path / "old-shape.db.manifest.json").exists()
    with open_registry(filled) as registry, registry.reading() as connection:
        assert rows_of(connection) == rows
        # The revision that sets a column's values aside moves data: going down and coming up are each sealed.
        assert registry.head()[0] == entries + 2
    assert run("store", "verify", "--registry", filled).status == 0
    again = run("store", "upgrade", "--registry", filled)
    assert again.status == 0 and "nothing was changed" in again.out


def test_a_failed_upgrade_leaves_the_old_file_as_it_was(sqlite_location: str, tmp_path: Path) -> None:
    with open_registry(sqlite_location) as registry, registry.writing(by="filler", reason="rows") as door:
        fill(door)
    with migrating(sqlite_location) as connection:
        move(connection, known_revisions()[4])
        # A parked row that its table can no longer take, as a damaged disk might leave it.
        connection.exec_driver_sql("UPDATE parked_reading SET finding = 'no such code'")
    with sqlite3.connect(sqlite_location) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        before = list(raw.iterdump())
    said = run("store", "upgrade", "--registry", sqlite_location, "--backup", str(tmp_path / "kept.db"))
    assert said.status == 1 and "is as it was" in said.err.replace("\n", " "), said.err
    assert (tmp_path / "kept.db").exists()
    with sqlite3.connect(sqlite_location) as raw:
        assert list(raw.iterdump()) == before


def test_erasing_a_patient_asks_and_keeps_the_history_whole(filled: str) -> None:
    with open_registry(filled) as registry, registry.reading() as connection:
        number = connection.exec_driver_sql("SELECT study_number FROM patient ORDER BY id").scalars().first()
    said = run("store", "erase", "--registry", filled, "--study-number", str(number), "--reason", "asked for", "--yes")
    assert said.status == 0, said.err
    assert run("store", "verify", "--registry", filled).status == 0
    unknown = run("store", "erase", "--registry", filled, "--study-number", "none", "--reason", "asked for", "--yes")
    assert unknown.status == 1 and "no patient with study number none" in unknown.err


def test_the_dictionary_is_written_in_three_forms(tmp_path: Path) -> None:
    said = run("store", "dictionary", str(tmp_path / "words"))
    assert said.status == 0
    assert {path.name for path in (tmp_path / "words").iterdir()} == {
        "dictionary.md", "dictionary.csv", "dictionary.json",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("arguments", "status", "sentence"),
    [
        (("stoer", "status"), 2, "Did you mean store"),
        (("store", "status", "--registry", "/nowhere/at/all.db"), 1, "There is no registry at /nowhere/at/all.db"),
        (("store", "verify", "--registry", "mysql://host/db"), 1, "not mysql"),
        (("store", "status", "--registry", "postgresql://127.0.0.1:1/none"), 1, "does not let us in"),
        (("store", "status", "--wrong"), 2, "No such option"),
        (("store", "backup", "x.db", "--registry", "/nowhere.db"), 1, "There is no registry"),
        (("store", "restore", "/nowhere.db", "--registry", "new.db"), 1, "There is no backup"),
    ],
)
def test_wrong_requests_get_one_paragraph(
    arguments: tuple[str, ...],
    status: int,
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    said = run(*arguments)
    assert said.status == status
    assert sentence in " ".join(said.err.split())
    assert said.out == "" and "Traceback" not in said.err
    assert list(tmp_path.iterdir()) == []
