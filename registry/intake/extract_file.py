"""From the files of an extract to the rows that it brings and the rows that have to wait."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from registry.intake.extract import Waits, place_rows
from registry.intake.log_cells import LogSheet
from registry.intake.log_mapping import Mapping
from registry.intake.log_records import RowValues
from registry.intake.rows import FileRows
from registry.intake.source import Source
from registry.intake.waiting import WaitingRow, fits, known_marks, mark_of, pack
from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import WaitingState
from registry.validation.findings import FindingList, Problem, Severity

if TYPE_CHECKING:
    from registry.store.registry import Registry


def read_extract(
    registry: Registry, source: Source, mapping: Mapping, site: str, rows: Sequence[RowValues], findings: FindingList
) -> FileRows:
    """The rows of an extract as those of the intake workbook, with the rows that found no case.

    Args:
        registry: where cases are looked up.
        source: the files and the mapping.
        mapping: the mapping, read.
        site: the site's code.
        rows: the rows as they were read.
        findings: takes what is wrong with them.

    Raises:
        GravelbookError: the mapping file cannot be read again.
    """
    assert source.mapping is not None
    file = FileRows(source.name, source.content_hash(), iter(()), source=mapping.name, fills=mapping.extract.fills)
    file.head = registry.head()
    waiting = place_rows(registry, mapping, site, rows, file, findings)
    if waiting:
        try:
            text = source.mapping.read_text(encoding="utf-8-sig")
        except OSError as fault:
            raise GravelbookError(f"The mapping {source.mapping} cannot be opened: {fault.strerror}.") from None
        sheets = {id(sheet): f"sheet {n}" for n, sheet in enumerate(_sheets(rows), start=1)}
        _take(registry, file, waiting, text, sheets, findings)
    return file


def _sheets(rows: Sequence[RowValues]) -> list[LogSheet]:
    return list({id(row.sheet): row.sheet for row in rows}.values())


def _take(
    registry: Registry,
    file: FileRows,
    waiting: Sequence[Waits],
    text: str,
    sheets: dict[int, str],
    findings: FindingList,
) -> None:
    """Keep what waits; a sheet goes by its place, because its title, or the file's name, may name a person."""
    known = known_marks(registry, file.source)
    for wait in waiting:
        row = wait.row
        mark, packed = mark_of(registry, file.source, row), pack(row, text)
        if mark in known:
            file.known_rows += 1
            file.still_waiting += known[mark] is WaitingState.WAITING
            continue
        if not fits(packed):
            why = "The row finds no case yet, and is too long to be kept until it does."
            problem = Problem("log.extract.long", Severity.ERROR, why, "the row again when its case is here")
            row.report(findings, (), problem)
            continue
        kept_as = sheets[id(row.sheet)]
        file.waiting.append(WaitingRow(row.sheet.file, row.sheet.title, kept_as, row.number, mark, wait.why, packed))
