"""From a workbook to addressed cells."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from zipfile import ZipFile

from registry.intake.cell_faults import faults_of, part_of
from registry.intake.example_row import NAME, ROW_NOTE, is_example
from registry.intake.headings import check_needed, find_headings
from registry.intake.rows import FileRows, SheetRows
from registry.intake.values import Cell
from registry.intake.workbook_open import content_hash, file_bytes, open_workbook
from registry.schema.errors import GravelbookError
from registry.schema.sheets import Sheet, identity_sheets, sheets
from registry.schema.xlsx_parts import letters
from registry.validation.findings import FindingList, Problem, Severity

READ_ME, LISTS, PROBLEMS = "read me", "lists", "problems"
OWN_SHEETS = frozenset({READ_ME, LISTS, PROBLEMS})


def all_sheets() -> tuple[Sheet, ...]:
    """The sheets that a workbook may hold, parents before children; those that name people last."""
    return (*sheets(), *identity_sheets())


def read_workbook(path: Path, findings: FindingList) -> FileRows:
    """Open a workbook; its sheets are read one by one as they are asked for.

    Args:
        path: the file.
        findings: takes unknown sheets and headings and cells that hold no value.

    Raises:
        GravelbookError: the file as a whole cannot be read, or (later) a sheet of it.
    """
    content = file_bytes(path)
    workbook, package = open_workbook(path, content)
    findings.sheet_order(workbook.sheet_names)
    file = FileRows(path.name, content_hash(content), iter(()))
    file.sheets = _sheets(path, workbook, package, file, findings)
    return file


def _sheets(path: Path, workbook: Any, package: ZipFile, file: FileRows, findings: FindingList) -> Iterator[SheetRows]:
    """The sheets that were recognised and hold rows, in the file's order."""
    known = _known_titles()
    found: dict[str, str] = {}
    titles = _sheets_of_cells(workbook)
    parts = {title: part_of(package, title) for title in titles}
    sizes = {title: package.getinfo(part).file_size for title, part in parts.items() if part is not None}
    file.size = sum(sizes.values())
    for title in titles:
        table = _cells(path, workbook, title)
        file.read += sizes.get(title, 0)
        if title.strip().casefold() in OWN_SHEETS or table is None:
            continue
        layout = known.get(title.strip().casefold())
        if layout is None:
            _unknown_sheet(title, findings)
        elif layout.table in found:
            why = f"Two sheets hold {layout.title}: this one and '{found[layout.table]}'."
            findings.add(Problem("sheet.once", Severity.ERROR, why, "one sheet for each"), sheet=title)
        else:
            found[layout.table] = title
            rows, passed = _sheet_rows(layout, title, table, faults_of(package, title), findings)
            del table
            file.ignored_examples += passed
            if len(rows) > 0:
                yield rows


def _sheets_of_cells(workbook: Any) -> list[str]:
    """The titles of the sheets that hold cells; sheets that hold a chart alone do not."""
    from python_calamine import SheetTypeEnum

    return [sheet.name for sheet in workbook.sheets_metadata if sheet.typ == SheetTypeEnum.WorkSheet]


def _known_titles() -> dict[str, Sheet]:
    titles = {s.table.casefold(): s for s in all_sheets()}
    return titles | {s.title.casefold(): s for s in all_sheets()}


def _cells(path: Path, workbook: Any, title: str) -> list[list[Any]] | None:
    """The cells of a sheet from A1 on; None for a sheet without any."""
    try:
        table: list[list[Any]] = workbook.get_sheet_by_name(title).to_python(skip_empty_area=False)
    except (KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as fault:  # as in open_workbook
        raise GravelbookError(f"Sheet '{title}' of {path} is damaged ({fault}). Save the file again.") from None
    return table if table else None


def _unknown_sheet(title: str, findings: FindingList) -> None:
    titles = [s.title for s in all_sheets()]
    near = difflib.get_close_matches(title, titles, n=3, cutoff=0.5)
    right = (
        f"perhaps {' or '.join(near)}; else remove the sheet"
        if near
        else "remove the sheet, or name it as in the template"
    )
    why = f"There is no sheet '{title}' in the registry's workbook, so its rows would be lost."
    findings.add(Problem("sheet.known", Severity.ERROR, why, right), sheet=title)


def _sheet_rows(
    layout: Sheet, title: str, table: list[list[Any]], faults: dict[tuple[int, int], str], findings: FindingList
) -> tuple[SheetRows, int]:
    """The rows of a sheet and how many example rows were passed over."""
    positions = find_headings(layout, title, table[0], table[1:], faults, findings)
    note_at = next((n for n, h in enumerate(table[0]) if str(h).strip().casefold() == ROW_NOTE), None)
    numbers: list[int] = []
    kept: list[list[Any]] = []
    passed = 0
    faulty_rows = {row for row, _ in faults}
    for number, row in enumerate(table[1:], start=2):
        if not any(row[at] != "" for at in positions.values()) and number not in faulty_rows:
            continue
        example = None
        if NAME in row or (note_at is not None and row[note_at] != ""):
            note = "" if note_at is None else str(row[note_at])
            example = is_example(layout, {h: row[at] for h, at in positions.items()}, note)
        if example is not None:
            passed += 1
            if isinstance(example, Problem):
                findings.add(example, sheet=title, row=number)
            continue
        numbers.append(number)
        kept.append(row)
    columns = list(zip(*kept, strict=True)) if kept else []
    cells: dict[str, list[Cell]] = {}
    for heading, at in positions.items():
        cells[heading] = [None if cell == "" else cell for cell in columns[at]] if kept else []
    rows = SheetRows(layout, title, numbers, cells, {h: letters(at) for h, at in positions.items()}, findings.file)
    if kept:
        _report_faults(rows, positions, faults, findings)
        check_needed(rows, findings)
    return rows, passed


def _report_faults(
    rows: SheetRows, positions: dict[str, int], faults: dict[tuple[int, int], str], findings: FindingList
) -> None:
    headings = {at: heading for heading, at in positions.items()}
    numbers = set(rows.numbers)
    for (row, at), what in sorted(faults.items()):
        if row in numbers and at in headings:
            findings.add(
                Problem("cell.value", Severity.ERROR, what, "the value itself, typed or pasted as a value"),
                sheet=rows.title,
                row=row,
                column=letters(at),
                heading=headings[at],
            )
