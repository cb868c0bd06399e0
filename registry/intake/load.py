"""Loads a checked file: all of it or nothing."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.amend import Amending
from registry.intake.amend_write import row_changes
from registry.intake.links import target_of
from registry.intake.load_plan import LoadPlan, make_plan
from registry.intake.progress import Progress
from registry.intake.source import Source, source_of
from registry.intake.waiting import keep_waiting
from registry.schema.errors import GravelbookError
from registry.schema.tables import links_of, metadata
from registry.store.amending import load_amended
from registry.store.batch_preparing import prepare_batch
from registry.store.meanwhile import still_holds
from registry.validation.findings import Finding

if TYPE_CHECKING:
    from registry.store.door import Door
    from registry.store.registry import Registry

_TRIES = 3
_AHEAD = (0, 1_000, 100_000)
"""How many ids are left to others who write while a load is prepared: none, until somebody has."""


@dataclass(frozen=True)
class Loaded:
    """What became of a file.

    Attributes:
        batch_id: the batch that was written; None when nothing was.
        new: rows written, by table.
        there: rows that the registry held already, by table.
        findings: questions and notes; with errors, nothing was written.
        seen_before: this very file was loaded before, so it was not read again.
        errors: how many errors there are.
        amended: rows that were there and were changed, by table.
        waiting: rows of an extract that found no case, and are kept until they do, from now on or from before.
    """

    batch_id: int | None = None
    new: dict[str, int] = field(default_factory=dict)
    there: dict[str, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    seen_before: bool = False
    errors: int = 0
    amended: dict[str, int] = field(default_factory=dict)
    waiting: int = 0


def load_file(
    registry: Registry,
    path: Path | Source,
    *,
    by: str,
    reason: str | None = None,
    progress: Progress | None = None,
    amending: Amending | None = None,
) -> Loaded:
    """Load a workbook, or a log by its mapping, all or nothing.

    Args:
        registry: where the rows go.
        path: the workbook, or the files with their mapping.
        by: who loads it.
        reason: why, for the change history.
        progress: told of each sheet that was read and each that was checked, and of each table that was written.
        amending: how far the file may change rows that are there; None: it brings new rows only.

    Returns:
        What was written and what was there already. With errors among the findings nothing was written.

    Raises:
        GravelbookError: the file as a whole cannot be read or holds no rows; it is to change rows and no reason is
            given; or the store refused it.
    """
    if amending is not None and not (reason or "").strip():
        raise GravelbookError("Changing rows that are there needs a reason: say why with --reason TEXT.")
    source = source_of(path)
    if batch_of(registry, hash_of(source.content_hash(), amending)) is not None:
        return Loaded(seen_before=True)
    for _ in range(_TRIES):
        plan = make_plan(registry, source, progress=progress, amending=amending)
        findings = plan.findings.listed()
        if plan.findings.errors:
            return Loaded(there=plan.there, findings=findings, errors=plan.findings.errors)
        refuse_empty(plan)
        if not plan.brings:
            return Loaded(there=plan.there, findings=findings, waiting=plan.file.still_waiting)
        counts = {table: len(rows) for table, rows in plan.new.items() if rows}
        batch_id = write_plan(registry, plan, by=by, reason=reason, progress=progress)
        if batch_id is not None:
            rows = {(amendment.table, amendment.row) for amendment in plan.amendments}
            amended = dict(Counter(table for table, _ in sorted(rows)))
            waiting = len(plan.file.waiting) + plan.file.still_waiting
            return Loaded(batch_id, counts, plan.there, findings, amended=amended, waiting=waiting)
    raise GravelbookError(
        f"Others wrote to the registry each time that {source.name} was checked, so it was not loaded. "
        "Try again in a moment."
    )


def refuse_empty(plan: LoadPlan) -> None:
    """Refuse a file without rows, which would otherwise pass every check.

    Raises:
        GravelbookError: the file holds no rows, and nothing is wrong that would explain it.
    """
    known = any(plan.there.values()) or plan.file.known_rows
    if not plan.brings and not known and not plan.findings.errors:
        passed = f" ({plan.file.ignored_examples} example rows were passed over)" if plan.file.ignored_examples else ""
        raise GravelbookError(
            f"{plan.file.name} holds no rows{passed}. Fill in the sheets below their headings, then try again."
        )


def hash_of(content_hash: str, amending: Amending | None) -> str:
    """The hash by which a load is known again.

    A file that leaves persons' corrections alone and the same file that replaces them are two different loads, of
    which the second may follow the first.
    """
    if amending is None or not amending.replacing:
        return content_hash
    return hashlib.sha256(f"{content_hash}, replacing corrections".encode()).hexdigest()


def batch_of(registry: Registry, file_hash: str) -> int | None:
    """The batch by which a file of this hash was loaded; None when it was not."""
    batch = metadata.tables["batch"].c
    with registry.reading() as connection:
        found: int | None = connection.execute(select(batch.id).where(batch.content_hash == file_hash)).scalar()
    return found


def write_plan(
    registry: Registry, plan: LoadPlan, *, by: str, reason: str | None = None, progress: Progress | None = None
) -> int | None:
    """Write the new rows and the amendments of a plan without errors, as one batch.

    Args:
        registry: the registry that the plan was made on.
        plan: the checked rows.
        by: who loads them.
        reason: why, for the change history.
        progress: told of each table that was written.

    Returns:
        The batch; None when the registry was changed since the plan was made, and nothing was written.
    """
    total = plan.new_rows + len({(a.table, a.row) for a in plan.amendments})
    tables = {table: rows for table, rows in plan.new.items() if rows}
    first: dict[str, int] = {}
    for ahead in _AHEAD:
        with registry.preparing(by=by, reason=reason) as door:
            if not _still_holds(door, plan):
                return None
            before, first = (
                first,
                {table: door.next_ids(table, len(rows) + ahead) + ahead for table, rows in tables.items()},
            )
            for table, rows in tables.items():
                _give_ids(table, rows, first, before)
            prepared = prepare_batch(door, tables, early=True)
        with registry.writing(by=by, reason=reason) as door:
            if not _still_holds(door, plan):
                return None
            if any(door.next_ids(table, 0) > first[table] for table in first):
                continue  # others have taken some of the ids meanwhile
            batch_id: int = load_amended(
                door,
                file_hash=hash_of(plan.file.content_hash, plan.amending),
                file_name=plan.file.name,
                source=plan.file.source,
                tables=tables,
                changes=[*row_changes(door, plan.amendments, first), *plan.file.placed],
                written=None if progress is None else lambda rows: progress("Writing", rows, total),
                prepared=prepared,
            )
            keep_waiting(door, plan.file.waiting, batch_id)
            return batch_id
    return None


def _still_holds(door: Door, plan: LoadPlan) -> bool:
    """The registry is as the plan was made on, or others wrote what has nothing to do with it."""
    if plan.amending is not None or plan.amendments or plan.file.placed or plan.file.waiting:
        return bool(door.chain.head == plan.head)
    return still_holds(door, plan.head, plan.patients)


def _give_ids(table: str, rows: list[dict[str, Any]], first: Mapping[str, int], before: Mapping[str, int]) -> None:
    """Turn stand-ins into ids: the n-th new row of a table has the n-th id that was set aside for it.

    Args:
        table: the table.
        rows: its new rows.
        first: by table, the first id that is set aside.
        before: the same, of an earlier time when others then took the ids; what leads to a new row moves with it.
    """
    targets = {link: target_of(table, link) for link in links_of(table) if target_of(table, link) in first}
    for number, row in enumerate(rows):
        row["id"] = first[table] + number
        for link, target in targets.items():
            value = row.get(link)
            if value is None:
                continue
            if value < 0:
                row[link] = first[target] - value - 1
            elif target in before and value >= before[target]:
                row[link] = value - before[target] + first[target]
