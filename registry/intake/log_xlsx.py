"""From a workbook to addressed cells."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any
from zipfile import ZipFile

from registry.intake.cell_faults import faults_of, part_of
from registry.intake.log_cells import DAY_ZERO_1904, EMPTY, FAULT, FORMULA, LogCell, Reading
from registry.intake.log_formats import show_zeros, zeros_by_style
from registry.intake.log_parts import Beside, beside, day_zero
from registry.intake.log_raw import Merge, RawSheet, Row
from registry.intake.log_remarks import Remarks
from registry.intake.log_shown import Cells, stored_cell
from registry.intake.log_undisturbed import undisturbed
from registry.intake.workbook_open import open_workbook
from registry.schema.errors import GravelbookError
from registry.validation.findings import FindingList

_ALL = "*"


def read_xlsx(path: Path, content: bytes, reading: Reading, findings: FindingList) -> Iterator[RawSheet]:
    """The sheets of a workbook that are asked for and hold cells, one by one.

    Args:
        path: the file, for messages.
        content: its bytes.
        reading: which sheets are asked for.
        findings: takes what was passed over.

    Raises:
        GravelbookError: the file or a sheet is damaged, or none of the sheets is there.
    """
    workbook, package = open_workbook(path, content)
    findings.sheet_order(workbook.sheet_names)
    first_day = day_zero(package)
    if first_day == DAY_ZERO_1904:
        Remarks(findings, path.name).note(
            "day_zero", "The workbook counts its days from 1 January 1904 and was read so."
        )
    read = 0
    unread: list[str] = []
    for title in _titles(path, workbook, reading, findings):
        if read and not reading.sheets:
            unread.append(title)
            continue
        sheet = _sheet(path, workbook, title)
        if any(size is None for size in (sheet.start, sheet.end)):
            if reading.sheets and _ALL not in reading.sheets:
                Remarks(findings, path.name, title).question("sheet", "The sheet holds no cells.", "another sheet")
            continue
        read += 1
        yield _raw(path, sheet, package, first_day)
    _report_unread(path, workbook, unread, findings)


def _titles(path: Path, workbook: Any, reading: Reading, findings: FindingList) -> list[str]:
    """The sheets to be read, in the order asked for."""
    from python_calamine import SheetTypeEnum, SheetVisibleEnum

    sheets = [sheet for sheet in workbook.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]
    visible = [sheet.name for sheet in sheets if sheet.visible == SheetVisibleEnum.Visible]
    hidden = [sheet.name for sheet in sheets if sheet.name not in visible]
    named = {sheet.name.strip().casefold(): sheet.name for sheet in sheets}
    asked = [named.get(title.strip().casefold()) for title in reading.sheets if title != _ALL]
    everything = not reading.sheets or _ALL in reading.sheets
    for title in hidden:
        if title in asked:
            Remarks(findings, path.name, title).note("hidden_sheet", "The sheet is hidden; it was read, as asked for.")
        else:
            why = "The sheet is hidden and was not read."
            Remarks(findings, path.name, title).note(
                "hidden_sheet", why, "its name under sheets, if it belongs to the log"
            )
    missing = [title for title in reading.sheets if title != _ALL and title.strip().casefold() not in named]
    if missing:
        _missing(path, missing, [sheet.name for sheet in sheets], findings, alone=not everything and not any(asked))
    found = [title for title in asked if title is not None]
    return list(dict.fromkeys([*found, *visible] if everything else found))


def _missing(path: Path, missing: list[str], there: list[str], findings: FindingList, *, alone: bool) -> None:
    names = ", ".join(f"'{title}'" for title in missing)
    known = ", ".join(f"'{title}'" for title in there)
    why = f"{path.name} has no sheet {names}; its sheets are {known}."
    if alone:
        raise GravelbookError(f"{why} Mend sheets under [reading] in the mapping.")
    Remarks(findings, path.name).question("sheet", why, "sheets under [reading]")


def _report_unread(path: Path, workbook: Any, titles: list[str], findings: FindingList) -> None:
    for title in titles:
        if _sheet(path, workbook, title).end is not None:
            Remarks(findings, path.name, title).note(
                "sheet", "The sheet holds cells and was not read.", "sheets under [reading], if it belongs to the log"
            )


def _sheet(path: Path, workbook: Any, title: str) -> Any:
    try:
        return workbook.get_sheet_by_name(title)
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as fault:  # the reader is compiled, and its own failures are not of class Exception
        raise GravelbookError(f"Sheet '{title}' of {path} is damaged ({fault}). Save the file again.") from None


def _raw(path: Path, sheet: Any, package: ZipFile, first_day: date) -> RawSheet:
    part = part_of(package, sheet.name)
    if part is None:
        raise GravelbookError(
            f"The cells of sheet '{sheet.name}' are not where a workbook keeps them, so hidden rows and formulas could "
            f"not be told. Open {path} in the spreadsheet program and save it as an ordinary .xlsx."
        )
    with undisturbed():
        values = sheet.to_python(skip_empty_area=False)
        found = beside(package, part, len(values[0]), zeros_by_style(package))
        cells = Cells(stored_cell)
        rows = _distinct(values, cells) if found.truths else [[cells[value] for value in row] for row in values]
    raw = RawSheet(sheet.name, list(range(1, len(rows) + 1)), rows, workbook=True, day_zero=first_day)
    raw.awkward = cells.awkward
    raw.hidden_rows, raw.hidden_columns = found.hidden_rows, found.hidden_columns
    if found.merged:
        raw.merges = [
            Merge(top + 1, left, bottom + 1, right) for (top, left), (bottom, right) in sheet.merged_cell_ranges
        ]
    _mark(raw, found, faults_of(package, sheet.name) if found.faulty else {})
    return raw


def _distinct(values: list[list[Any]], cells: Cells) -> list[Row]:
    """As above, for a sheet with truth values: True and 1 are the same key of a dictionary, but not the same cell."""
    truths = {True: stored_cell(True), False: stored_cell(False)}
    return [[truths[v] if v is True or v is False else cells[v] for v in row] for row in values]


def _mark(raw: RawSheet, found: Beside, faults: dict[tuple[int, int], str]) -> None:
    """Say of each cell that a formula fills, or that holds an error, that it does."""
    for number, at in found.formulas:
        if number <= len(raw.rows) and at < len(raw.rows[number - 1]):
            row = raw.rows[number - 1]
            if row[at] is not EMPTY:
                row[at] = LogCell(row[at].text, row[at].value, FORMULA)
    for number, at, digits in found.zeros:
        if number <= len(raw.rows) and at < len(raw.rows[number - 1]):
            show_zeros(raw.rows[number - 1], at, digits)
    for (number, at), why in faults.items():
        _reach(raw, number, at)
        raw.rows[number - 1][at] = LogCell("", None, FAULT)
        raw.faults[number, at] = why


def _reach(raw: RawSheet, number: int, at: int) -> None:
    """Faults may stand outside the area in which the reader of values saw cells."""
    while len(raw.rows) < number:
        raw.rows.append([])
        raw.numbers.append(len(raw.rows))
    row = raw.rows[number - 1]
    row.extend([EMPTY] * (at + 1 - len(row)))
