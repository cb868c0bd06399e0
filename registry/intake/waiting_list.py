"""The rows of extracts that wait, as a list without any person's value; and dropping one of them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, astuple, dataclass, fields
from typing import TYPE_CHECKING

from registry.intake.extract_finding import SENTENCES, Why
from registry.intake.waiting import content_of, held_waiting
from registry.intake.waiting_again import MAPPING, REFUSED
from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import WaitingState

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True)
class ListedWaiting:
    """A row that waits: its number here, the batch, the source and the place it came from, since when, and why."""

    id: int
    batch: int
    source: str
    place: str
    since: str
    tried: str
    why: str


def list_waiting(registry: Registry) -> list[ListedWaiting]:
    """The rows that wait, oldest first."""
    return [
        ListedWaiting(
            held.row,
            held.batch,
            held.source,
            f"{held.sheet}, row {held.number}",
            held.since.strftime("%Y-%m-%d"),
            held.tried_at.strftime("%Y-%m-%d") if held.tried_at is not None else "",
            sentence(held.why),
        )
        for held in held_waiting(registry)
    ]


def sentence(why: str) -> str:
    """Why a row waits, in words."""
    if why.startswith(REFUSED):
        rule = why.removeprefix(REFUSED)
        return f"Its case is here, but something in the row is at fault (rule {rule}): drop it and load it mended."
    if why == MAPPING:
        return "The mapping it came with does not fit any more: drop it and load its extract again."
    return SENTENCES[Why(why)]


def drop(registry: Registry, row: int, *, by: str, reason: str) -> None:
    """Let a row wait no more. A later extract that brings it again does not bring it back.

    Args:
        registry: the registry.
        row: its number in the list.
        by: who says so.
        reason: why, for the change history.

    Raises:
        GravelbookError: no such row waits, or no reason is given.
    """
    if not reason.strip():
        raise GravelbookError("Dropping a row needs a reason: say why with --reason TEXT.")
    held = next((held for held in held_waiting(registry) if held.row == row), None)
    if held is None:
        raise GravelbookError(f"No row {row} waits. See which do with: gravelbook intake waiting")
    with registry.writing(by=by, reason=reason) as door:
        values = {"state": WaitingState.DROPPED, "content": content_of(held.mark, "dropped")}
        door.update("waiting_row", row, values, revision=held.revision)


def as_text(rows: Sequence[ListedWaiting]) -> str:
    """The list for the eye."""
    if not rows:
        return "No row waits.\n"
    lines = [_HEADINGS, *(tuple(map(str, astuple(row))) for row in rows)]
    widths = [max(len(line[n]) for line in lines) for n in range(len(_HEADINGS))]
    padded = ("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in lines)
    return "".join(f"{line.rstrip()}\n" for line in padded)


def as_csv(rows: Sequence[ListedWaiting]) -> str:
    """The list as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEADINGS)
    writer.writerows(astuple(row) for row in rows)
    return out.getvalue()


def as_json(rows: Sequence[ListedWaiting]) -> str:
    """The list as JSON."""
    return json.dumps([asdict(row) for row in rows], ensure_ascii=False, indent=1) + "\n"


_HEADINGS = tuple(f.name for f in fields(ListedWaiting))
