"""Erases a person: the key goes, and with it every name, number and note, wherever they stand."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Engine, or_, select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ChangeKind
from registry.schema.tables import metadata, patient_path
from registry.store.cipher import owner_of_text
from registry.store.door import Door
from registry.store.images import search_indexes

_WAIT_S = 5.0


def erase_patient(door: Door, patient_id: int, reason: str) -> None:
    """Erase a patient's identity and free wording for good, in the rows and in their history.

    The wrapped key and the keyed indexes go; ciphertext stays where it is and can be read by nobody any more, so that
    the history and its proofs hold. Clinical values stay. A record merged into this patient's is erased with it.
    Backups made before hold the key still, and must be destroyed apart.

    Args:
        door: the open writing transaction.
        patient_id: the patient.
        reason: why, for the history; it must not name the person.

    Raises:
        GravelbookError: there is no such patient, it was erased already, or no reason was given.
    """
    if not reason.strip():
        raise GravelbookError("An erasure needs a reason, for example: asked for by the patient on 2026-03-01.")
    if door.reason is None:
        door.reason = reason
    keys = metadata.tables["patient_key"]
    found = door.connection.execute(select(keys).where(keys.c.patient_id == patient_id)).mappings().one_or_none()
    if found is None:
        raise GravelbookError(f"There is no patient {patient_id} with a key to erase.")
    if found["erased_at"] is not None:
        raise GravelbookError(f"Patient {patient_id} was erased already, on {found['erased_at']:%Y-%m-%d}.")
    _clear_lines(door, patient_id)
    _clear_indexes(door, patient_id)
    door.cipher.forget(patient_id)
    stored = {"wrapped_key": None, "erased_at": datetime.now(UTC)}
    door.change(keys, dict(found), stored, patient_id, ChangeKind.ERASURE)
    merges = metadata.tables["patient_merge"].c
    merged = select(merges.merged_patient_id).where(merges.kept_patient_id == patient_id, merges.undone_at.is_(None))
    for other in door.connection.execute(merged).scalars().all():
        if door.cipher.holds(other):
            erase_patient(door, other, reason)
    engine = door.connection.engine
    follow_up = _scrub_sqlite if engine.dialect.name == "sqlite" else _scrub_postgresql
    if not door.after_commit:
        door.after_commit.append(lambda: follow_up(engine))


def _clear_indexes(door: Door, patient_id: int) -> None:
    for table in metadata.sorted_tables:
        indexes = search_indexes(table)
        path = patient_path(table.name)
        if indexes and path and len(path) == 1:
            query = select(table).where(table.c[path[0]] == patient_id)
            for row in door.connection.execute(query).mappings().all():
                door.change(table, dict(row), dict.fromkeys(indexes), patient_id, ChangeKind.ERASURE)


def _clear_lines(door: Door, patient_id: int) -> None:
    """Theatre list lines of the patient: found by the number's index or by the operation they were matched to."""
    lines, numbers = metadata.tables["theatre_list_line"], metadata.tables["hospital_number"]
    operations = metadata.tables["operation"].c
    own = select(numbers.c.number_index).where(numbers.c.patient_id == patient_id)
    matched = select(operations.id).where(operations.patient_id == patient_id)
    query = select(lines).where(or_(lines.c.hospital_number_index.in_(own), lines.c.operation_id.in_(matched)))
    for row in door.connection.execute(query).mappings().all():
        stored: dict[str, Any] = {"hospital_number_index": None}
        for name in ("hospital_number", "wording"):
            # Written before the patient was known here, it stands under the registry's own key.
            if row[name] is not None and owner_of_text(row[name]) != patient_id:
                stored[name] = None
        door.change(lines, dict(row), stored, patient_id, ChangeKind.ERASURE)


def _scrub_sqlite(engine: Engine) -> None:
    """Empty the write-ahead log, which holds pages from before the erasure."""
    end = time.monotonic() + _WAIT_S
    driver = engine.raw_connection()
    try:
        while True:
            busy = driver.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]
            if not busy:
                return
            if time.monotonic() > end:
                raise GravelbookError(
                    "The patient was erased, but another program is reading the registry, so its write-ahead log "
                    "still holds the old key. Close the other programs and open the registry once more."
                )
            time.sleep(0.05)
    finally:
        driver.close()


def _scrub_postgresql(engine: Engine) -> None:
    """Rewrite the tables that held the key and the indexes, without their dead rows."""
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        for table in ("patient_key", "hospital_number", "theatre_list_line"):
            connection.exec_driver_sql(f"VACUUM FULL {table}")
