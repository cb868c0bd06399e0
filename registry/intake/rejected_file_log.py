"""The rejected rows of a flat log, as a workbook that the log's own mapping reads."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from registry.intake.good_rows_keys import Unit
from registry.intake.log_cells import DAY_ZERO_1904, FAULT, LogSheet, Reading
from registry.intake.log_csv import read_csv
from registry.intake.log_heading_rows import heading_rows
from registry.intake.log_mapping_reader import read_mapping
from registry.intake.log_open import is_workbook, log_bytes
from registry.intake.log_raw import RawSheet, Row
from registry.intake.log_remarks import Remarks
from registry.intake.log_table import table_of
from registry.intake.log_xlsx import read_xlsx
from registry.intake.rejected_file import size_reasons, write_headings, write_reasons
from registry.intake.rejected_file_cells import put_fault, put_value
from registry.intake.rejected_file_columns import (
    ROW_IN_FILE,
    WHY_NOT_LOADED,
    is_added,
    sheet_title,
    without_added,
)
from registry.intake.source import Source
from registry.validation.findings import Finding, FindingList

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_JOINED = " | "


@dataclass(frozen=True)
class LogPart:
    """A sheet of a log, or a CSV file, as it stands.

    Attributes:
        file: the file.
        raw: all cells.
        heads: the positions of the heading rows.
        table: the headings and the rows below them.
    """

    file: Path
    raw: RawSheet
    heads: list[int]
    table: LogSheet

    @property
    def units(self) -> list[Unit]:
        """The rows that may be cases."""
        return [(self.table.file, self.table.title, number) for number in self.table.numbers]


def log_parts(source: Source) -> list[LogPart]:
    """Read the files of a log once more, for what its rows do not show: what stands above them.

    Args:
        source: the files with their mapping.

    Raises:
        GravelbookError: a file or the mapping cannot be read.
    """
    reading, unsaid = _reading(source), FindingList(source.name)
    parts = []
    for file in source.files:
        content = log_bytes(file)
        remarks = Remarks(unsaid, file.name)
        raws = (
            read_xlsx(file, content, reading, unsaid) if is_workbook(content) else [read_csv(content, reading, remarks)]
        )
        for raw in raws:
            heads = heading_rows(raw, reading.headings_in_rows, remarks.place)
            table = table_of(raw, reading, Remarks(unsaid, file.name, raw.title))
            added = {at for at, heading in enumerate(table.headings) if is_added(heading)}
            if added:  # of rows that were rejected before
                raw.rows = [[cell for at, cell in enumerate(row) if at not in added] for row in raw.rows]
            parts.append(LogPart(file, raw, heads, without_added(table)))
    return parts


def csv_rows(content: bytes, source: Source) -> Iterator[tuple[int, list[str]]]:
    """The cells of a CSV file as text, each row with the line on which it starts.

    Args:
        content: the bytes of the file.
        source: the files with their mapping, which may say how they are read.
    """
    raw = read_csv(content, _reading(source), Remarks(FindingList(source.name), source.name))
    for number, row in zip(raw.numbers, raw.rows, strict=True):
        yield number, [cell.text for cell in row]


def rejected_log(parts: list[LogPart], reasons: dict[Unit, list[Finding]]) -> Workbook:
    """The rejected rows of one file under the headings that it has, with all that stands above these.

    Args:
        parts: the sheets of the file.
        reasons: by rejected row, what keeps it out.
    """
    from openpyxl import Workbook
    from openpyxl.utils.datetime import CALENDAR_MAC_1904

    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    for part in parts:
        if part.raw.day_zero == DAY_ZERO_1904:
            workbook.epoch = CALENDAR_MAC_1904  # a number that is a date in disguise counts from the same day
        if any(unit in reasons for unit in part.units):
            _write_part(workbook.create_sheet(part.raw.title or sheet_title(part.file)), part, reasons)
    return workbook


def _write_part(target: Worksheet, part: LogPart, reasons: dict[Unit, list[Finding]]) -> None:
    raw, width = part.raw, len(part.table.headings)
    last = part.heads[-1]
    for at in range(last + 1):
        _write_row(target, raw.numbers[at], raw.rows[at], raw.faults, raw.numbers[at])
    row, beyond = raw.numbers[last], width + 3
    write_headings(target, row, width + 1, [WHY_NOT_LOADED, ROW_IN_FILE])
    for merge in raw.merges:
        if merge.bottom <= row:
            target.merge_cells(
                start_row=merge.top, start_column=merge.left + 1, end_row=merge.bottom, end_column=merge.right + 1
            )
    rows = dict(zip(raw.numbers, raw.rows, strict=True))
    for unit in part.units:
        if unit in reasons:
            row += 1
            cells = rows[unit[2]]
            _write_row(target, row, cells[:width], raw.faults, unit[2])
            if stray := [cell.text for cell in cells[width:] if cell.text.strip()]:
                # Each in a column of its own: a column that several rows fill would pass for one without a heading.
                put_value(target, row, beyond, _JOINED.join(stray))
                beyond += 1
            write_reasons(target, row, width + 1, reasons[unit], unit[2])
    size_reasons(target, width)


def _write_row(target: Worksheet, row: int, cells: Row, faults: dict[tuple[int, int], str], number: int) -> None:
    for at, cell in enumerate(cells):
        if cell.note == FAULT:
            put_fault(target, row, at + 1, faults.get((number, at), ""))
        elif cell.value is not None and cell.value != "":
            put_value(target, row, at + 1, cell.value)


def _reading(source: Source) -> Reading:
    assert source.mapping is not None
    return read_mapping(source.mapping).reading
