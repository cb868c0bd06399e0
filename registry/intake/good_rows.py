"""Loads the good rows of a file and writes the others, with their reasons, to be mended."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING

from registry.intake.good_rows_keys import Unit
from registry.intake.good_rows_sorting import SortedRows, sort_rows
from registry.intake.load import Loaded, batch_of, refuse_empty, write_plan
from registry.intake.marked_copy_places import places_beside
from registry.intake.progress import Progress
from registry.intake.rejected_file import rejected_workbook
from registry.intake.source import Source, source_of
from registry.intake.workbook_file import save_package, save_workbook
from registry.schema.errors import GravelbookError

if TYPE_CHECKING:
    from openpyxl import Workbook

    from registry.intake.rejected_file_log import LogPart
    from registry.store.registry import Registry

_TRIES = 3


class _ChangedMeanwhileError(Exception):
    """The registry was written by others since the plan was made."""


@dataclass(frozen=True)
class GoodRows:
    """What became of the rows of a file.

    Attributes:
        loaded: what was written, and every finding; its ``errors`` are those of the rejected rows.
        rejected: how many rows of the file were not loaded.
        files: the workbooks that hold them.
        refused: an error is not about a row, so that nothing was loaded and no workbook was written.
    """

    loaded: Loaded
    rejected: int = 0
    files: list[str] = field(default_factory=list)
    refused: bool = False


def load_good_rows(
    registry: Registry,
    path: Path | Source,
    target: Path,
    *,
    by: str,
    reason: str | None = None,
    overwrite: bool = False,
    today: date | None = None,
    progress: Progress | None = None,
) -> GoodRows:
    """Load the rows of a file that are right and write the others to a workbook of the file's own layout.

    The rejected rows stand in their workbook before the registry is written, so that no row is ever in neither; if
    the registry is not written in the end, the workbook goes again.

    Args:
        registry: where the good rows go.
        path: the workbook, or the files with their mapping.
        target: the workbook of rejected rows; one with the file's name beside it for each of several files.
        by: who loads the rows.
        reason: why, for the change history.
        overwrite: replace the workbook of rejected rows if it is there.
        today: the last day that may be recorded as past; today by default.
        progress: told of each sheet that was read and checked and each table that was written.

    Raises:
        GravelbookError: the file as a whole cannot be read or holds no rows, the target cannot be written or is one
            of the files, or the store refused the rows.
    """
    source = source_of(path)
    places = places_beside(target, source.files, overwrite=overwrite)
    original = source.content_hash()
    if batch_of(registry, original) is not None:
        return GoodRows(Loaded(seen_before=True))
    parts = _log_parts(source)
    persons = _persons(source, parts)
    for _ in range(_TRIES):
        rows = sort_rows(registry, source, persons, today=today, progress=progress)
        findings = rows.findings()
        if rows.refused:
            loaded = Loaded(there=rows.plan.there, findings=findings, errors=rows.plan.findings.errors)
            return GoodRows(loaded, refused=True)
        if not rows.reasons:
            refuse_empty(rows.plan)
        rows.plan.file.content_hash = _hash_without(original, rows)
        books = {places[name]: book for name, book in _workbooks(source, parts, rows).items()}
        counts = {table: len(new) for table, new in rows.plan.new.items() if new}
        amended = dict(Counter(table for table, _ in {(a.table, a.row) for a in rows.plan.amendments}))
        file = rows.plan.file
        file.waiting = [one for one in file.waiting if (one.file, one.sheet, one.number) not in rows.reasons]
        brings = rows.plan.brings
        errors = sum(map(len, rows.reasons.values()))
        try:
            with _standing(books):
                batch = write_plan(registry, rows.plan, by=by, reason=reason, progress=progress) if brings else None
                if brings and batch is None:
                    raise _ChangedMeanwhileError
        except _ChangedMeanwhileError:
            continue
        loaded = Loaded(
            batch,
            counts,
            rows.plan.there,
            findings,
            errors=errors,
            amended=amended,
            waiting=len(file.waiting) + file.still_waiting,
        )
        return GoodRows(loaded, len(rows.reasons), [str(place) for place in books])
    raise GravelbookError(
        f"Others wrote to the registry each time that {source.name} was checked, so it was not loaded. "
        "Try again in a moment."
    )


def _log_parts(source: Source) -> list[LogPart]:
    """The sheets of a log as they stand; none for a workbook in the registry's own layout."""
    if source.mapping is None:
        return []
    from registry.intake.rejected_file_log import log_parts

    return log_parts(source)


def _persons(source: Source, parts: list[LogPart]) -> dict[Unit, str] | None:
    if not parts:
        return None
    from registry.intake.rejected_file_persons import persons_of

    return persons_of(source, parts)


def _workbooks(source: Source, parts: list[LogPart], rows: SortedRows) -> dict[str, Workbook]:
    """The rejected rows of each file that has some, by the file's name."""
    if not rows.reasons:
        return {}
    if source.mapping is None:
        return {source.files[0].name: rejected_workbook(rows)}
    from registry.intake.rejected_file_log import rejected_log

    names = dict.fromkeys(unit[0] for unit in sorted(rows.reasons))
    return {name: rejected_log([part for part in parts if part.file.name == name], rows.reasons) for name in names}


def _hash_without(original: str, rows: SortedRows) -> str:
    """What a batch is known by that holds a part of a file, so that the file itself is read again when it is given."""
    if not rows.reasons:
        return original
    without = "".join(f"\n{file}\t{sheet}\t{row}" for file, sheet, row in sorted(rows.reasons))
    return hashlib.sha256(f"{original} without{without}".encode()).hexdigest()


@contextmanager
def _standing(books: Mapping[Path, Workbook]) -> Iterator[None]:
    """Workbooks that stand while something is done, and are as they were before if it fails."""
    before = {path: path.read_bytes() if path.exists() else None for path in books}
    try:
        for path, book in books.items():
            save_workbook(book, path)
        yield
    except BaseException:
        for path, old in before.items():
            if old is None:
                path.unlink(missing_ok=True)
            else:
                save_package(path, partial(_put, old))
        raise


def _put(content: bytes, stream: IO[bytes]) -> None:
    stream.write(content)
