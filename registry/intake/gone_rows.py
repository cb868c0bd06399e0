"""Rows that an earlier version of a log brought and its new version no longer has."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection, select

from registry.intake.known_keys import KnownKeys
from registry.intake.links import target_of
from registry.schema.base import model_of
from registry.schema.sheets import sheets
from registry.schema.tables import links_of, metadata, natural_key, ordered_tables
from registry.store.batch_rows import batch_entries, keys_in
from registry.store.field_history import FIRST_SOURCE
from registry.validation.findings import FindingList, Problem, Severity


def report_gone(connection: Connection, source: str, present: Mapping[str, set[int]], findings: FindingList) -> None:
    """Ask about each row that is held from a source and is not in its new version. Nothing is removed.

    What lies below a row that is gone is gone with it, and is not asked about again.

    Args:
        connection: a reading transaction on the registry.
        source: the log.
        present: by table, the keys of the registry's rows that the file names.
        findings: takes the questions.
    """
    gone = _gone(connection, source, present)
    if not any(gone.values()):
        return
    known = KnownKeys(connection)
    for table in ordered_tables():
        rows = gone.get(table.name)
        if not rows:
            continue
        label, parts = model_of(table).label, natural_key(table.name)
        for key in sorted(key for key, row in known.of(table.name).items() if row in rows):
            named = ", ".join(f"{part.heading} {value}" for part, value in zip(parts, key, strict=True))
            why = (
                f"{label} {named} came from an earlier version of this log, and is not in this one. Nothing is "
                "removed: it may be missing here by mistake, or its key may have been written otherwise."
            )
            right = "the row in the log; or take it from the registry by hand if it never was"
            findings.add(Problem("row.gone", Severity.QUESTION, why, right), sheet=label)


def _gone(connection: Connection, source: str, present: Mapping[str, set[int]]) -> dict[str, set[int]]:
    """By table, the topmost rows that are gone."""
    batch = metadata.tables["batch"].c
    own = [
        row.id for row in connection.execute(select(batch.id, batch.source)) if (row.source or FIRST_SOURCE) == source
    ]
    asked = {sheet.table for sheet in sheets()}
    entered: dict[str, set[int]] = {}
    for entry in batch_entries(connection, own):
        for name in asked & entry.rows.keys():
            entered.setdefault(name, set()).update(keys_in(entry.rows[name]))
    missing: dict[str, set[int]] = {}
    gone: dict[str, set[int]] = {}
    for table in ordered_tables():
        if table.name not in entered:
            continue
        lost = entered[table.name] - present.get(table.name, set())
        links = [n for n in model_of(table).key_fields if n in links_of(table.name)]
        top: set[int] = set()
        held: set[int] = set()
        for row in connection.execute(select(table.c.id, *(table.c[name] for name in links))) if lost else ():
            if row.id in lost:
                held.add(row.id)
                if not any(row._mapping[n] in missing.get(target_of(table.name, n), ()) for n in links):
                    top.add(row.id)
        missing[table.name], gone[table.name] = held, top
    return gone
