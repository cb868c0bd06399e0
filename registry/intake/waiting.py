"""Rows of extracts that found no case yet: how they are kept, encrypted, so that they can be read again."""

from __future__ import annotations

import base64
import hmac
import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.intake.log_cells import LogCell, LogSheet
from registry.intake.log_records import RowValues
from registry.schema.fields import Note, info_of
from registry.schema.lists_outcome import WaitingState
from registry.schema.tables import metadata

if TYPE_CHECKING:
    from registry.intake.values import Cell
    from registry.store.door import Door
    from registry.store.registry import Registry

_TABLE = metadata.tables["waiting_row"]
_KINDS: dict[str, Any] = {"datetime": datetime, "date": date, "time": time}


@dataclass(frozen=True)
class WaitingRow:
    """A row that is to be kept.

    Attributes:
        file: its file.
        sheet: its sheet in the file.
        kept_as: the sheet's place among the sheets of its extract, in words.
        number: its number in the sheet.
        mark: by which the same row of a later extract is known; says nothing of what is in it.
        why: why it waits.
        packed: its cells, and the mapping by which they are read.
    """

    file: str
    sheet: str
    kept_as: str
    number: int
    mark: str
    why: str
    packed: str


@dataclass(frozen=True)
class HeldWaiting:
    """A row that waits in the registry."""

    row: int
    batch: int
    source: str
    sheet: str
    number: int
    revision: int
    since: datetime
    tried_at: datetime | None
    mark: str
    why: str
    packed: str


def mark_of(registry: Registry, source: str, row: RowValues) -> str:
    """The keyed mark of a row: equal cells under equal headings of one source have the same."""
    cells = row.sheet.rows[row.at]
    filled = sorted((h, c.text.strip()) for h, c in zip(row.sheet.headings, cells, strict=True) if c.text.strip())
    text = json.dumps(["waiting row", source, filled], ensure_ascii=False)
    return hmac.digest(registry.keys.index, text.encode(), "sha256").hex()


def pack(row: RowValues, mapping_text: str) -> str:
    """A row with its headings, and the mapping, as one text."""
    sheet = row.sheet
    cells = [
        [letter, heading, cell.text, _plain(cell.value), cell.note]
        for letter, heading, cell in zip(sheet.columns, sheet.headings, sheet.rows[row.at], strict=True)
    ]
    body = {"file": sheet.file, "sheet": sheet.title, "day_zero": sheet.day_zero.isoformat(), "cells": cells}
    text = json.dumps({**body, "mapping": mapping_text}, ensure_ascii=False, separators=(",", ":"))
    return base64.b64encode(zlib.compress(text.encode(), 9)).decode()


def fits(packed: str) -> bool:
    """A packed row can be kept."""
    kind = info_of(_TABLE.columns["content"]).kind
    assert isinstance(kind, Note)
    return len(packed) + 200 <= kind.longest


def unpack(packed: str) -> dict[str, Any]:
    """A packed row: file, sheet, day_zero, cells and mapping."""
    found: dict[str, Any] = json.loads(zlib.decompress(base64.b64decode(packed)))
    return found


def sheets_again(rows: Sequence[HeldWaiting]) -> list[LogSheet]:
    """Waiting rows as the sheets of a log, whose row numbers are the keys of the waiting rows."""
    sheets: dict[str, LogSheet] = {}
    for held in rows:
        body = unpack(held.packed)
        heads = [(letter, heading) for letter, heading, *_ in body["cells"]]
        made = json.dumps([body["file"], body["sheet"], body["day_zero"], heads])
        sheet = sheets.get(made)
        if sheet is None:
            letters, headings = [letter for letter, _ in heads], [heading for _, heading in heads]
            sheet = sheets[made] = LogSheet(body["file"], body["sheet"], headings, letters)
            sheet.day_zero = date.fromisoformat(body["day_zero"])
        sheet.numbers.append(held.row)
        sheet.rows.append([LogCell(text, _typed(value), note) for _, _, text, value, note in body["cells"]])
    return list(sheets.values())


def keep_waiting(door: Door, rows: Sequence[WaitingRow], batch: int) -> None:
    """Keep rows in the transaction of the batch that they came with."""
    now = datetime.now(UTC)
    for row in rows:
        values = {
            "source_batch_id": batch,
            "sheet": row.kept_as,
            "row_number": row.number,
            "content": content_of(row.mark, row.why, row.packed),
            "tried_at": now,
        }
        door.insert("waiting_row", values)


def content_of(mark: str, why: str, packed: str | None = None) -> str:
    """What is kept of a row, encrypted; of one that waits no more, its mark alone."""
    return json.dumps({"mark": mark, "why": why} | ({} if packed is None else {"row": packed}))


def held_waiting(registry: Registry) -> list[HeldWaiting]:
    """The rows that wait, oldest first."""
    return [held for held, state in _held(registry) if state is WaitingState.WAITING]


def known_marks(registry: Registry, source: str) -> dict[str, WaitingState]:
    """The marks of a source's rows that wait already, or that somebody has dropped."""
    held = ((one.mark, state) for one, state in _held(registry) if one.source == source)
    return {mark: state for mark, state in held if state is not WaitingState.PLACED}


def _held(registry: Registry) -> Iterator[tuple[HeldWaiting, WaitingState]]:
    batch, c = metadata.tables["batch"].c, _TABLE.c
    query = select(_TABLE, batch.source).where(batch.id == c.source_batch_id).order_by(c.id)
    with registry.reading() as connection:
        cipher = registry.cipher(connection)
        for row in connection.execute(query).mappings():
            said = json.loads(cipher.decrypt(row["content"], "waiting_row", "content"))
            held = HeldWaiting(
                row["id"],
                row["source_batch_id"],
                str(row["source"] or ""),
                row["sheet"],
                row["row_number"],
                row["revision"],
                row["created_at"],
                row["tried_at"],
                said["mark"],
                said["why"],
                said.get("row", ""),
            )
            yield held, WaitingState(row["state"])


def _plain(value: Cell) -> Any:
    if isinstance(value, timedelta):
        return {"seconds": value.total_seconds()}
    for name, kind in _KINDS.items():  # a moment is a date too, and comes first
        if isinstance(value, kind):
            return {name: value.isoformat()}
    return value


def _typed(value: Any) -> Cell:
    if not isinstance(value, dict):
        return value  # type: ignore[no-any-return]
    ((name, text),) = value.items()
    return timedelta(seconds=text) if name == "seconds" else _KINDS[name].fromisoformat(text)
