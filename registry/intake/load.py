"""Loads a checked file: all of it or nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.links import target_of
from registry.intake.load_plan import LoadPlan, make_plan
from registry.intake.progress import Progress
from registry.intake.workbook_open import content_hash, file_bytes
from registry.schema.errors import GravelbookError
from registry.schema.tables import links_of, metadata
from registry.validation.findings import Finding

if TYPE_CHECKING:
    from registry.store.registry import Registry

_TRIES = 3


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
    """

    batch_id: int | None = None
    new: dict[str, int] = field(default_factory=dict)
    there: dict[str, int] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    seen_before: bool = False
    errors: int = 0


def load_file(
    registry: Registry, path: Path, *, by: str, reason: str | None = None, progress: Progress | None = None
) -> Loaded:
    """Load a workbook, all or nothing.

    Args:
        registry: where the rows go.
        path: the workbook.
        by: who loads it.
        reason: why, for the change history.
        progress: told of each sheet that was read and each that was checked, and of each table that was written.

    Returns:
        What was written and what was there already. With errors among the findings nothing was written.

    Raises:
        GravelbookError: the file as a whole cannot be read or holds no rows; or the store refused it.
    """
    seen = content_hash(file_bytes(path))
    if batch_of(registry, seen) is not None:
        return Loaded(seen_before=True)
    for _ in range(_TRIES):
        plan = make_plan(registry, path, progress=progress)
        findings = plan.findings.listed()
        if plan.findings.errors:
            return Loaded(there=plan.there, findings=findings, errors=plan.findings.errors)
        refuse_empty(plan)
        if plan.new_rows == 0:
            return Loaded(there=plan.there, findings=findings)
        counts = {table: len(rows) for table, rows in plan.new.items() if rows}
        batch_id = _write(registry, plan, by=by, reason=reason, progress=progress)
        if batch_id is not None:
            return Loaded(batch_id, counts, plan.there, findings)
    raise GravelbookError(
        f"Others wrote to the registry each time that {path.name} was checked, so it was not loaded. "
        "Try again in a moment."
    )


def refuse_empty(plan: LoadPlan) -> None:
    """Refuse a file without rows, which would otherwise pass every check.

    Raises:
        GravelbookError: the file holds no rows, and nothing is wrong that would explain it.
    """
    if plan.new_rows == 0 and not any(plan.there.values()) and not plan.findings.errors:
        passed = f" ({plan.file.ignored_examples} example rows were passed over)" if plan.file.ignored_examples else ""
        raise GravelbookError(
            f"{plan.file.name} holds no rows{passed}. Fill in the sheets below their headings, then try again."
        )


def batch_of(registry: Registry, file_hash: str) -> int | None:
    """The batch by which a file of this hash was loaded; None when it was not."""
    batch = metadata.tables["batch"].c
    with registry.reading() as connection:
        found: int | None = connection.execute(select(batch.id).where(batch.content_hash == file_hash)).scalar()
    return found


def _write(registry: Registry, plan: LoadPlan, *, by: str, reason: str | None, progress: Progress | None) -> int | None:
    """Write the new rows of a plan; None when the registry was changed since the plan was made."""
    with registry.writing(by=by, reason=reason) as door:
        if registry.head() != plan.head:
            return None
        total = plan.new_rows
        first = {table: door.next_ids(table, len(rows)) for table, rows in plan.new.items() if rows}
        for table, rows in plan.new.items():
            _give_ids(table, rows, first)
        batch_id: int = door.load_batch(
            file_hash=plan.file.content_hash,
            file_name=plan.file.name,
            tables={table: rows for table, rows in plan.new.items() if rows},
            written=None if progress is None else lambda rows: progress("Writing", rows, total),
        )
    return batch_id


def _give_ids(table: str, rows: list[dict[str, Any]], first: dict[str, int]) -> None:
    """Turn stand-ins into ids: the n-th new row of a table has the n-th id that was set aside for it."""
    targets = {link: target_of(table, link) for link in links_of(table)}
    for number, row in enumerate(rows):
        row["id"] = first[table] + number
        for link, target in targets.items():
            value = row.get(link)
            if value is not None and value < 0:
                row[link] = first[target] - value - 1
