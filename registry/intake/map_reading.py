"""The log that a mapping is proposed for: read as it is, with two heading rows where it has them."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from registry.intake.log_cells import LogFile, LogSheet, Reading
from registry.intake.log_heading_rows import HeadingRowsError
from registry.intake.log_mapping import folded
from registry.intake.log_reader import read_log_file
from registry.intake.map_whole import WholeProposal, propose_all
from registry.schema.errors import GravelbookError
from registry.validation.findings import FindingList


def proposal_for(file: Path, sheet: str | None = None) -> WholeProposal:
    """Read a log and propose a mapping for its first sheet.

    Args:
        file: the log.
        sheet: the sheet; by default the first visible one that holds cells.

    Raises:
        GravelbookError: the file cannot be read, or holds no rows.
    """
    reading = Reading(sheets=(sheet,) if sheet else ())
    rows: tuple[int, ...] = ()
    findings = FindingList(file.name)
    try:
        log = _read(file, reading, findings)
    except HeadingRowsError as unclear:
        if not unclear.proposed:
            raise
        rows = unclear.proposed
        log = _read(file, Reading(sheets=reading.sheets, headings_in_rows=rows), findings)
    first = log.sheets[0]
    totals = _totals(first, findings)
    if totals:
        first = _read(file, Reading(sheets=reading.sheets, headings_in_rows=rows, totals=totals), findings).sheets[0]
    if not first.rows:
        raise GravelbookError(f"{file} holds headings and no rows, so that nothing can be told. Give a file with rows.")
    whole = propose_all(first, date.today())
    whole.heading_rows, whole.totals = rows, totals
    if first.title and sheet is None:
        for other in _others(file, first, rows):
            same = list(map(folded, other.headings)) == list(map(folded, first.headings))
            (whole.more_sheets if same else whole.other_sheets).append(other.title)
    return whole


def _read(file: Path, reading: Reading, findings: FindingList | None = None) -> LogFile:
    return read_log_file(file, reading, findings or FindingList(file.name))


def _totals(sheet: LogSheet, findings: FindingList) -> tuple[str, ...]:
    """The words with which rows begin that the reader takes for totals."""
    rows = {found.row for found in findings.listed() if found.rule == "log.totals" and found.sheet == sheet.title}
    words = []
    for number, cells in zip(sheet.numbers, sheet.rows, strict=True):
        if number in rows:
            words.append(next(cell.text.strip() for cell in cells if cell.text.strip()))
    return tuple(dict.fromkeys(words))


def _others(file: Path, first: LogSheet, rows: tuple[int, ...]) -> list[LogSheet]:
    """The further sheets of a workbook; none where they cannot all be read like the first."""
    try:
        every = _read(file, Reading(sheets=("*",), headings_in_rows=rows))
    except GravelbookError:
        return []
    return [sheet for sheet in every.sheets if sheet.title != first.title]
