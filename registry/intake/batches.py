"""The files that were loaded, in a list."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import TYPE_CHECKING

from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.batch_rows import batch_entries
from registry.store.field_history import FIRST_SOURCE

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True)
class ListedBatch:
    """One batch. ``changes`` counts its changes of rows that were there before; a file's name is shown on request."""

    batch: int
    loaded_at: str
    by: str
    source: str
    rows: int
    changes: int
    state: str
    file_name: str | None = None


def list_batches(registry: Registry, *, names: bool = False) -> list[ListedBatch]:
    """All batches, oldest first.

    Args:
        registry: the registry.
        names: decrypt the names of the files, which may name a person.
    """
    table = metadata.tables["batch"]
    with registry.reading() as connection:
        changes = {entry.batch: entry.followed_by for entry in batch_entries(connection, rows=False)}
        cipher = registry.cipher(connection)
        return [
            ListedBatch(
                row["id"],
                row["created_at"].strftime("%Y-%m-%d %H:%M"),
                row["created_by"],
                row["source"] or FIRST_SOURCE,
                row["row_count"],
                changes.get(row["id"], 0),
                str(row["state"]),
                cipher.decrypt(row["file_name"], "batch", "file_name") if names and row["file_name"] else None,
            )
            for row in connection.execute(select(table).order_by(table.c.id)).mappings()
        ]


def as_text(batches: Sequence[ListedBatch]) -> str:
    """The list for the eye."""
    if not batches:
        return "No files were loaded yet.\n"
    lines = [_headings(batches), *(tuple(map(str, _cells(batch, batches))) for batch in batches)]
    widths = [max(len(line[n]) for line in lines) for n in range(len(lines[0]))]
    rows = ("  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) for line in lines)
    return "".join(f"{row.rstrip()}\n" for row in rows)


def as_csv(batches: Sequence[ListedBatch]) -> str:
    """The list as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_headings(batches))
    writer.writerows(_cells(batch, batches) for batch in batches)
    return out.getvalue()


def as_json(batches: Sequence[ListedBatch]) -> str:
    """The list as JSON."""
    return json.dumps([asdict(batch) for batch in batches], ensure_ascii=False, indent=1) + "\n"


def _headings(batches: Sequence[ListedBatch]) -> tuple[str, ...]:
    shown = any(batch.file_name is not None for batch in batches)
    return tuple(f.name for f in fields(ListedBatch) if shown or f.name != "file_name")


def _cells(batch: ListedBatch, batches: Sequence[ListedBatch]) -> tuple[object, ...]:
    cells = (getattr(batch, name) for name in _headings(batches))
    return tuple("" if cell is None else cell for cell in cells)
