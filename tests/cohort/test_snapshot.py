"""Snapshots of a real registry: taken, reused, refreshed, kept, removed, refused."""

from __future__ import annotations

import gc
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from analysis.cohort import freezing
from analysis.cohort.cache import COHORTS
from analysis.cohort.freezing import freeze_registry
from analysis.cohort.layout import frozen_columns, frozen_tables
from analysis.cohort.load import load_cohort
from analysis.cohort.manifest import FILE_NAME, RegistryState
from analysis.cohort.places import AUTOMATIC, KEPT, UNFINISHED, snapshots_folder
from analysis.cohort.snapshot import (
    Snapshot,
    current_snapshot,
    keep_snapshot,
    kept_names,
    kept_snapshot,
    open_snapshot,
    remove_snapshot,
)
from registry.schema.errors import GravelbookError
from registry.schema.fields import Keeping, Note, Secret, info_of
from registry.schema.tables import metadata
from registry.store.registry import Registry, open_registry
from tests.cohort.full_registry import PLANTED, filled, identify


@pytest.fixture
def full(registry: Registry) -> Registry:
    """A filled registry, once on each engine."""
    filled().written(registry)
    identify(registry)
    return registry


@pytest.fixture
def file_registry(sqlite_location: str) -> Iterator[Registry]:
    """A filled registry in a file."""
    with open_registry(sqlite_location) as opened:
        filled().written(opened)
        yield opened


def change(registry: Registry) -> None:
    with registry.writing(by="tester") as door:
        door.insert("patient", {"site_id": 1, "study_number": f"N{registry_length(registry)}"})


def registry_length(registry: Registry) -> int:
    return registry.head()[0]


def bytes_of(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}


def automatic(registry: Registry) -> list[str]:
    return sorted(each.name for each in (snapshots_folder(registry.location) / AUTOMATIC).iterdir())


def test_the_same_registry_gives_the_same_bytes(full: Registry, tmp_path: Path) -> None:
    made = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        freeze_registry(full, tmp_path / name)
        made.append(bytes_of(tmp_path / name))
    assert made[0] == made[1]
    assert set(made[0]) == {FILE_NAME, *(f"{name}.parquet" for name in frozen_tables())}


@pytest.mark.parametrize(("writes", "patients"), [(1, 2 + 1), (4, 2 + 4)])
def test_what_is_written_just_before_the_tables_are_read_is_not_mislabelled(
    full: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, writes: int, patients: int
) -> None:
    written_between(full, monkeypatch, writes)
    manifest = freeze_registry(full, tmp_path)
    assert (manifest.registry.history_length, manifest.registry.history_head) == full.head()
    assert manifest.tables["patient"].rows == patients


def test_a_registry_that_is_written_to_all_the_while_is_not_frozen(
    full: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written_between(full, monkeypatch, 5)
    with pytest.raises(GravelbookError, match="each of the 5 times"):
        freeze_registry(full, tmp_path)


def written_between(registry: Registry, monkeypatch: pytest.MonkeyPatch, writes: int) -> None:
    """Let somebody write after each of the first looks at the history, before the tables are read."""
    look, left = freezing.state_of, [writes]

    def looked(asked: Registry) -> RegistryState:
        state = look(asked)
        if left[0]:
            left[0] -= 1
            change(registry)
        return state

    monkeypatch.setattr(freezing, "state_of", looked)


def test_nothing_that_names_a_person_is_in_a_snapshot(full: Registry) -> None:
    snapshot = open_snapshot(full)
    load_cohort(snapshot)
    files = [path for path in snapshot.folder.rglob("*") if path.is_file()]
    texts = []
    for path in files:
        content = path.read_bytes()
        if path.suffix == ".parquet":
            # Compressed pages are looked into as well.
            content += json.dumps(pq.read_table(path).to_pylist(), default=str).encode()
        texts.append(content)
    assert len(files) > len(frozen_tables())
    for word in PLANTED:
        assert not [path for path, text in zip(files, texts, strict=True) if word.encode() in text], word
    assert any(b"S0001" in text for text in texts)


def test_no_identifying_field_is_ever_frozen() -> None:
    assert not {"patient_identity", "hospital_number", "patient_key", "change_history", "account"} & set(
        frozen_tables()
    )
    for table in frozen_tables():
        for name in frozen_columns(table):
            info = info_of(metadata.tables[table].columns[name])
            assert not info.identifying, f"{table}.{name}"
            assert not isinstance(info.kind, Note | Secret), f"{table}.{name}"
            assert name == "missing_reasons" or not isinstance(info.kind, Keeping), f"{table}.{name}"


def test_the_manifest_dates_are_those_of_the_registry(full: Registry) -> None:
    manifest = open_snapshot(full).manifest
    history = metadata.tables["change_history"]
    with full.reading() as connection:
        last = max(connection.execute(history.select()).mappings().all(), key=lambda row: row["id"])
    assert manifest.registry.last_change_at == last["at"].isoformat(timespec="microseconds")
    assert (manifest.registry.history_length, manifest.registry.history_head) == full.head()
    assert manifest.tables["treated_side"].rows == 3
    assert set(manifest.software) == {"gravelbook", "pyarrow", "duckdb", "pandas", "python"}


def test_an_unchanged_registry_reuses_its_snapshot(full: Registry) -> None:
    first = open_snapshot(full)
    mark = (first.folder / FILE_NAME).stat().st_mtime_ns
    again = open_snapshot(full)
    assert again == first
    assert (again.folder / FILE_NAME).stat().st_mtime_ns == mark


def test_a_changed_registry_gets_a_new_one_and_the_old_is_dropped(full: Registry) -> None:
    first = open_snapshot(full).folder
    gc.collect()
    change(full)
    second = open_snapshot(full)
    assert automatic(full) == [second.folder.name]
    assert second.folder != first
    assert second.manifest.tables["patient"].rows == 3


def test_a_snapshot_that_is_being_read_is_not_taken_away(full: Registry) -> None:
    reading = open_snapshot(full)
    change(full)
    second = open_snapshot(full)
    assert sorted([reading.folder.name, second.folder.name]) == automatic(full)
    assert len(load_cohort(reading).sides_frame) == 3
    assert reading.held is not None
    reading.held.let_go()
    open_snapshot(full)
    assert automatic(full) == [second.folder.name]


def test_a_kept_snapshot_stays_as_it_is(full: Registry) -> None:
    folder = snapshots_folder(full.location)
    kept = keep_snapshot(current_snapshot(full), folder, "spring-1")
    before = bytes_of(kept.folder)
    change(full)
    open_snapshot(full)
    again = open_snapshot(full, "spring-1")
    assert bytes_of(again.folder) == before
    assert again.manifest.tables["patient"].rows == 2
    assert len(load_cohort(again).sides_frame) == 3
    assert kept_names(folder) == ["spring-1"]
    with pytest.raises(GravelbookError, match="already kept under the name 'spring-1'"):
        keep_snapshot(current_snapshot(full), folder, "spring-1")
    remove_snapshot(folder, "spring-1")
    assert kept_names(folder) == []
    for ask in (kept_snapshot, remove_snapshot):
        with pytest.raises(GravelbookError, match=r"'spring-1'.*Kept are: none"):
            ask(folder, "spring-1")


@pytest.mark.parametrize("name", ["", ".", "..", "a/b", "a b", "é", "x" * 61, "a.b"])
def test_names(file_registry: Registry, name: str) -> None:
    snapshot = current_snapshot(file_registry)
    with pytest.raises(GravelbookError, match="cannot name a snapshot"):
        keep_snapshot(snapshot, snapshots_folder(file_registry.location), name)


def test_only_this_account_may_enter(file_registry: Registry) -> None:
    snapshot = open_snapshot(file_registry)
    load_cohort(snapshot)
    folder = snapshots_folder(file_registry.location)
    for path in (folder, *folder.rglob("*")):
        assert path.stat().st_mode & 0o077 == 0, path


def spoil(snapshot: Snapshot, file: str) -> None:
    path = snapshot.folder / file
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


@pytest.mark.parametrize("file", ["patient.parquet", "treated_side.parquet", "site.parquet"])
def test_a_changed_file_is_refused(file_registry: Registry, file: str) -> None:
    snapshot = open_snapshot(file_registry)
    load_cohort(snapshot)
    spoil(snapshot, file)
    with pytest.raises(GravelbookError, match=rf"{file} differs from what was written"):
        load_cohort(open_snapshot(file_registry))
    with pytest.raises(GravelbookError, match=rf"{file} differs from what was written"):
        keep_snapshot(snapshot, snapshots_folder(file_registry.location), "one")
    # Asked to take it, the program takes it again.
    assert len(load_cohort(current_snapshot(file_registry, mend=True)).sides_frame) == 3


def test_a_missing_file_and_a_spoilt_manifest_are_refused(file_registry: Registry) -> None:
    snapshot = open_snapshot(file_registry)
    snapshot.file("stone").unlink()
    with pytest.raises(GravelbookError, match=r"stone\.parquet differs"):
        load_cohort(snapshot)
    manifest = json.loads((snapshot.folder / FILE_NAME).read_text())
    manifest["tables"]["stone"]["rows"] = 7
    (snapshot.folder / FILE_NAME).write_text(json.dumps(manifest))
    with pytest.raises(GravelbookError, match="do not agree with its content hash"):
        open_snapshot(file_registry)
    (snapshot.folder / FILE_NAME).write_text("{")
    with pytest.raises(GravelbookError, match=r"manifest.json cannot be read"):
        open_snapshot(file_registry)
    (snapshot.folder / FILE_NAME).write_text(json.dumps({"format": 99}))
    with pytest.raises(GravelbookError, match="written in format 99"):
        open_snapshot(file_registry)


def test_a_folder_without_a_manifest_is_no_snapshot(file_registry: Registry) -> None:
    (open_snapshot(file_registry).folder / FILE_NAME).unlink()
    assert len(load_cohort(open_snapshot(file_registry)).sides_frame) == 3


def test_a_spoilt_cache_is_built_again(file_registry: Registry) -> None:
    snapshot = open_snapshot(file_registry)
    expected = load_cohort(snapshot)
    (made,) = (snapshot.folder / COHORTS).iterdir()
    before = bytes_of(made)
    (made / "cohort.parquet").write_bytes(b"not parquet")
    assert load_cohort(snapshot).sides_frame.equals(expected.sides_frame)
    assert bytes_of(made) == before


def test_the_cohort_is_kept_and_its_bytes_are_the_same_each_time(file_registry: Registry, tmp_path: Path) -> None:
    snapshot = open_snapshot(file_registry)
    load_cohort(snapshot)
    (made,) = (snapshot.folder / COHORTS).iterdir()
    before, mark = bytes_of(made), (made / "cohort.parquet").stat().st_mtime_ns
    load_cohort(snapshot)
    assert (made / "cohort.parquet").stat().st_mtime_ns == mark
    shutil.copytree(snapshot.folder, tmp_path / "copy", ignore=shutil.ignore_patterns(COHORTS))
    load_cohort(Snapshot(tmp_path / "copy", snapshot.manifest))
    (other,) = (tmp_path / "copy" / COHORTS).iterdir()
    assert bytes_of(other) == before


def test_what_a_killed_run_left_is_nothing_to_others(file_registry: Registry) -> None:
    folder = snapshots_folder(file_registry.location)
    stale, fresh = folder / AUTOMATIC / f"{UNFINISHED}old", folder / AUTOMATIC / f"{UNFINISHED}new"
    for left in (stale, fresh):
        left.mkdir(parents=True)
        (left / "patient.parquet").write_bytes(b"half")
    os.utime(stale, (0, 0))
    assert len(load_cohort(open_snapshot(file_registry)).sides_frame) == 3
    assert not stale.exists()
    assert fresh.exists()  # another run may be writing it this moment


ASK = """
import sys
from analysis.cohort.load import load_cohort
from analysis.cohort.snapshot import open_snapshot
from registry.store.registry import open_registry
print(len(load_cohort(open_snapshot(open_registry(sys.argv[1]))).sides_frame))
"""


def test_several_processes_at_once(file_registry: Registry) -> None:
    command = [sys.executable, "-c", ASK, str(file_registry.location.file)]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) for _ in range(3)]
    answers = [process.communicate() for process in running]
    assert [out.strip() for out, _ in answers] == [b"3"] * 3, answers
    assert len(automatic(file_registry)) == 1


def test_the_folder_of_a_database_server(full: Registry, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if full.location.file is not None:
        assert snapshots_folder(full.location) == tmp_path / "gravelbook.db.snapshots"
        return
    database = full.location.url.database
    monkeypatch.setenv("GRAVELBOOK_SNAPSHOTS", str(tmp_path / "apart"))
    assert snapshots_folder(full.location) == tmp_path / "apart" / f"gravelbook-{database}.snapshots"
    monkeypatch.delenv("GRAVELBOOK_SNAPSHOTS")
    monkeypatch.chdir(tmp_path)
    assert snapshots_folder(full.location) == tmp_path / f"gravelbook-{database}.snapshots"
    assert not (tmp_path / "apart" / KEPT).exists()
