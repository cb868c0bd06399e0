"""Rows of extracts that wait are tried again: the same reading, the same checks, a batch of their own."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from registry.intake.extract import place_rows
from registry.intake.load import write_plan
from registry.intake.load_plan import LoadPlan, plan_file
from registry.intake.log_cells import LogSheet
from registry.intake.log_mapping import MappedColumn, Mapping, folded
from registry.intake.log_mapping_reader import parse_mapping
from registry.intake.log_rows import rows_of_sheets, site_of
from registry.intake.rows import FileRows
from registry.intake.waiting import HeldWaiting, content_of, held_waiting, sheets_again, unpack
from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import WaitingState
from registry.store.amending import RowChange
from registry.validation.findings import FindingList, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry

REFUSED = "error: "
"""Before the rule that keeps a row out although its case is here."""
MAPPING = "mapping"
_TRIES = 3
_REASON = "rows of an extract that waited found their case"


@dataclass
class TriedAgain:
    """What became of the rows that waited.

    Attributes:
        placed: how many found their case.
        left: how many wait still.
        batches: the batches by which they were written.
    """

    placed: int = 0
    left: int = 0
    batches: list[int] = field(default_factory=list)


def try_again(registry: Registry, *, by: str, asked: bool = False) -> TriedAgain:
    """Try every row that waits.

    Args:
        registry: the registry.
        by: who does it.
        asked: a person asked for it, so that the time is noted with the rows that wait on; else only where they now
            wait for something else.

    Raises:
        GravelbookError: the store refused the rows.
    """
    groups: dict[tuple[str, str], list[HeldWaiting]] = {}
    for held in held_waiting(registry):
        groups.setdefault((held.source, unpack(held.packed)["mapping"]), []).append(held)
    done = TriedAgain()
    for (source, text), rows in groups.items():
        whys = _try(registry, source, text, rows, by, done)
        left = [row for row in rows if row.row in whys]
        _note(registry, [row for row in left if asked or whys[row.row] != row.why], whys, by)
        done.placed += len(rows) - len(left)
        done.left += len(left)
    return done


def _try(
    registry: Registry, source: str, text: str, rows: Sequence[HeldWaiting], by: str, done: TriedAgain
) -> dict[int, str]:
    """Write what can be placed; why each of the others waits."""
    mapping = _mapping(source, text, sheets_again(rows))
    if mapping is None:
        return {row.row: MAPPING for row in rows}
    for _ in range(_TRIES):
        plan, whys = _plan(registry, mapping, rows)
        placed = [row for row in rows if row.row not in whys]
        if plan is None or not placed:
            return whys
        plan.file.content_hash = _hash(placed)
        plan.file.placed = [_placed(row) for row in placed]
        batch = write_plan(registry, plan, by=by, reason=_REASON)
        if batch is not None:
            done.batches.append(batch)
            return whys
    raise GravelbookError(
        "Others wrote to the registry each time that the waiting rows were checked, so they wait on. Try again in a "
        "moment: gravelbook intake waiting --try-again"
    )


def _plan(registry: Registry, mapping: Mapping, rows: Sequence[HeldWaiting]) -> tuple[LoadPlan | None, dict[int, str]]:
    """A plan without errors of the rows that have their case, and why the others wait."""
    refused: dict[int, str] = {}
    while tried := [row for row in rows if row.row not in refused]:
        findings = FindingList(mapping.name)
        file = FileRows(mapping.name, "", iter(()), source=mapping.name, fills=mapping.extract.fills)
        file.head = registry.head()
        try:
            site = site_of(registry, mapping)
            read = list(rows_of_sheets(mapping, sheets_again(tried), findings))
        except GravelbookError:  # the site is gone, or the mapping does not fit any more
            return None, refused | {row.row: MAPPING for row in tried}
        waits = {wait.row.number: str(wait.why) for wait in place_rows(registry, mapping, site, read, file, findings)}
        plan = plan_file(registry, file, findings)
        errors = [found for found in findings.listed() if found.severity is Severity.ERROR]
        if not errors:
            return plan, refused | waits
        own = {row.row for row in tried}
        at_fault = {found.row: REFUSED + found.rule for found in errors if found.row in own}
        # An error that is not about a row keeps all of them.
        refused |= {row: why for row, why in at_fault.items() if row} or dict.fromkeys(own, REFUSED + errors[0].rule)
    return None, refused


def _mapping(source: str, text: str, sheets: Sequence[LogSheet]) -> Mapping | None:
    """The mapping with which the rows came, without the columns that were in other sheets; None if it reads no more."""
    mistakes: list[str] = []
    mapping = parse_mapping(f"mapping of {source}", tomllib.loads(text), mistakes)
    if mistakes:
        return None
    headings = {folded(heading) for sheet in sheets for heading in sheet.headings}
    return replace(
        mapping,
        columns=tuple(column for column in mapping.columns if any(_has(sheet, column) for sheet in sheets)),
        constants=tuple(constant for constant in mapping.constants if not constant.when or constant.when in headings),
    )


def _has(sheet: LogSheet, column: MappedColumn) -> bool:
    headings = {folded(heading) for heading in sheet.headings}
    if not column.is_in(sheet) or not headings.issuperset(heading for heading, _ in column.where):
        return False
    return column.letter in sheet.columns or column.heading in headings


def _hash(rows: Sequence[HeldWaiting]) -> str:
    """What the batch is known by; the same rows wait again after it is withdrawn, under another revision."""
    named = ",".join(f"{row.row}.{row.revision}" for row in rows)
    return hashlib.sha256(f"waiting rows {named}".encode()).hexdigest()


def _placed(row: HeldWaiting) -> RowChange:
    values = {
        "state": WaitingState.PLACED,
        "content": content_of(row.mark, "placed"),
        "tried_at": datetime.now(UTC),
    }
    return RowChange("waiting_row", row.row, values)


def _note(registry: Registry, rows: Sequence[HeldWaiting], whys: dict[int, str], by: str) -> None:
    if not rows:
        return
    now = datetime.now(UTC)
    with registry.writing(by=by) as door:
        for row in rows:
            stands = door.read(door.table("waiting_row"), row.row)
            if stands["revision"] != row.revision:
                continue  # somebody has dropped or placed it meanwhile
            content = content_of(row.mark, whys[row.row], row.packed)
            door.update("waiting_row", row.row, {"content": content, "tried_at": now}, revision=row.revision)
