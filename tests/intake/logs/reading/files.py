"""Logs built for tests, and reading them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import openpyxl

from registry.intake.log_cells import LogCell, LogFile, LogSheet, Reading
from registry.intake.log_reader import read_log_file
from registry.validation.findings import Finding, FindingList, Severity
from tests.intake.books import put

HEADINGS = ["MRN", "Date of op", "Side", "Stone size"]
ROWS: list[list[Any]] = [["007", "2024-05-03", "left", "12"], ["NA", "2024-06-01", "right", "1.10"]]


def csv_file(folder: Path, text: str | bytes, encoding: str = "utf-8") -> Path:
    """A CSV file; the text is written as it stands, line ends too."""
    path = folder / "log.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode(encoding))
    return path


def book(folder: Path, rows: Sequence[Sequence[Any]], change: Callable[[Any], object] | None = None) -> Path:
    """A workbook with one sheet, ``log``, from A1 on, changed before it is saved. Text stays text."""
    workbook = openpyxl.Workbook()
    sheet = workbook.worksheets[0]
    sheet.title = "log"
    fill(sheet, rows)
    if change:
        change(sheet)
    path = folder / "log.xlsx"
    workbook.save(path)
    return path


def fill(sheet: Any, rows: Sequence[Sequence[Any]]) -> None:
    """Put rows into a sheet from A1 on."""
    for number, row in enumerate(rows, start=1):
        for at, value in enumerate(row, start=1):
            if value is not None:
                put(sheet.cell(number, at), value)


def read_file(path: Path, **reading: Any) -> tuple[LogFile, list[Finding]]:
    """A file and what reading it found."""
    findings = FindingList(path.name)
    file = read_log_file(path, Reading(**reading), findings)
    return file, findings.listed()


def read(path: Path, **reading: Any) -> tuple[LogSheet, list[Finding]]:
    """The only sheet of a file and what reading it found."""
    file, found = read_file(path, **reading)
    [sheet] = file.sheets
    assert all(len(row) == len(sheet.headings) == len(sheet.columns) for row in sheet.rows)
    assert len(sheet.numbers) == len(sheet.rows)
    return sheet, found


def texts(sheet: LogSheet) -> list[list[str]]:
    """The cells as text."""
    return [[cell.text for cell in row] for row in sheet.rows]


def cell(sheet: LogSheet, address: str) -> LogCell:
    """The cell at an address such as ``B7``."""
    letters = address.rstrip("0123456789")
    return sheet.rows[sheet.numbers.index(int(address[len(letters) :]))][sheet.columns.index(letters)]


def only(found: list[Finding], rule: str, severity: Severity = Severity.NOTE) -> Finding:
    """The only finding there is, which is of this rule and severity."""
    assert [(f.rule, f.severity) for f in found] == [(rule, severity)], [(f.rule, f.place, f.why) for f in found]
    return found[0]
