"""Whatever persons correct between two versions of a log: no correction is lost, and every other change arrives."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from registry.intake.amend import Amending
from registry.intake.load import load_file
from registry.schema.tables import metadata
from registry.store.registry import Registry, open_registry
from registry.store.verify import verify
from registry.store.withdrawing import withdraw_batch
from tests.intake.books import OPERATED, Rows
from tests.intake.test_amend import Books

STUDIES = ("s1", "s2", "s3")
FIELDS = ("asa_class", "operating_min", "weight_kg", "note")
VALUES: dict[str, list[Any]] = {
    "asa_class": ["1", "2", "3"],
    "operating_min": [30, 60, 90],
    "weight_kg": [60, 70, 80],
    "note": ["one", "two", "three"],
}

CELLS = [(study, field) for study in STUDIES for field in FIELDS]
Cells = dict[tuple[str, str], Any]


def said(blank: bool) -> st.SearchStrategy[Cells]:
    """A value for every cell; some are blank."""
    return st.fixed_dictionaries(
        {cell: st.sampled_from([*VALUES[cell[1]], *([None] if blank else [])]) for cell in CELLS}
    )


corrections = st.dictionaries(st.sampled_from(CELLS), st.integers(0, 3), max_size=6)


def log(cells: Cells) -> Rows:
    """The log with these cells."""
    operations = [
        {"study_number": study, "operated_on": OPERATED, "purpose": "stone_removal"}
        | {field: cells[study, field] for field in FIELDS}
        for study in STUDIES
    ]
    return {
        "site": [{"site": "LB", "name": "Larkspur Bay"}],
        "patient": [{"study_number": study} for study in STUDIES],
        "operation": operations,
    }


def held(registry: Registry) -> Cells:
    """What the registry has, in clear."""
    operation, patient = metadata.tables["operation"], metadata.tables["patient"]
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        query = select(operation, patient.c.study_number.label("study")).where(operation.c.patient_id == patient.c.id)
        found = {row["study"]: dict(row) for row in connection.execute(query).mappings()}
        for row in found.values():
            row["note"] = row["note"] and cipher.decrypt(row["note"], "operation", "note")
    return {cell: found[cell[0]][cell[1]] for cell in CELLS}


def correct(registry: Registry, changes: dict[tuple[str, str], int]) -> Cells:
    """Persons change cells, one after the other; a cell is emptied by the number 3. Gives those that did change."""
    changed: Cells = {}
    operation, patient = metadata.tables["operation"], metadata.tables["patient"]
    for (study, field), choice in changes.items():
        value = [*VALUES[field], None][choice]
        if held(registry)[study, field] == value:
            continue
        with registry.writing(by="Jo") as door:
            query = select(operation.c.id, operation.c.revision).where(
                operation.c.patient_id == patient.c.id, patient.c.study_number == study
            )
            row = door.connection.execute(query).one()
            door.update("operation", row.id, {field: value}, revision=row.revision)
        changed[study, field] = value
    return changed


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the files of all examples go."""
    return tmp_path_factory.mktemp("laws")


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=said(True), changes=corrections, second=said(True), replacing=st.booleans())
def test_no_correction_is_lost_and_every_other_change_arrives(
    first: Cells,
    changes: dict[tuple[str, str], int],
    second: Cells,
    replacing: bool,
    empty_file: Path,
    folder: Path,
) -> None:
    for end in ("", ".key"):
        shutil.copy(f"{empty_file}{end}", folder / f"registry.db{end}")
    for end in ("-wal", "-shm"):
        (folder / f"registry.db{end}").unlink(missing_ok=True)
    book = Books(folder)
    with open_registry(folder / "registry.db") as registry:
        load_file(registry, book(log(first)), by="loader")
        corrected = correct(registry, changes)
        before = held(registry)
        loaded = load_file(
            registry, book(log(second)), by="loader", reason="next version", amending=Amending(replacing=replacing)
        )
        assert loaded.errors == 0
        after = held(registry)
        for cell in CELLS:
            new = second[cell]
            if new is None:
                assert after[cell] == before[cell]  # a blank cell says nothing
            elif cell not in corrected or (replacing and new != first[cell]):
                assert after[cell] == new
            else:
                assert after[cell] == corrected[cell]
        conflicts = {cell for cell in corrected if second[cell] not in (None, first[cell], before[cell])}
        questions = [f for f in loaded.findings if f.rule == "row.corrected"]
        assert len(questions) == (0 if replacing else len(conflicts))
        assert verify(registry).findings == []
        if loaded.batch_id is not None:
            with registry.writing(by="Jo", reason="wrong file") as door:
                withdraw_batch(door, loaded.batch_id)
            assert held(registry) == before
            assert verify(registry).findings == []
