"""Writes records as a filled intake workbook (.xlsx); the same records give the same bytes."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError
from registry.schema.sheets import Sheet, identity_sheets, sheets
from registry.schema.xlsx_parts import write_sheets
from synthetic_cohort.story import Row, Rows


def write_workbook(records: Rows, path: Path | str, *, identity: bool = True) -> int:
    """Write a workbook, one sheet a table, headings in row 1; the number of rows is given back.

    Args:
        records: rows by table, as ``records`` makes them; days become date cells.
        path: the file, replaced when it exists.
        identity: write the sheets that name people too.

    Raises:
        GravelbookError: the file cannot be written.
        LookupError: a row has a heading that its sheet has not.
    """
    written = [*sheets(), *(identity_sheets() if identity else ())]
    made = io.BytesIO()
    write_sheets(made, ((sheet.table, _page(sheet, records.get(sheet.table, []))) for sheet in written))
    try:
        Path(path).write_bytes(made.getvalue())
    except OSError as problem:
        raise GravelbookError(
            f"The workbook {path} cannot be written: {problem.strerror}. Choose another place or close the file."
        ) from problem
    return sum(len(records.get(sheet.table, [])) for sheet in written)


def _page(sheet: Sheet, rows: list[Row]) -> Iterator[list[Any]]:
    headings = sheet.headings
    known = set(headings)
    yield headings
    for row in rows:
        if unknown := row.keys() - known:
            raise LookupError(f"sheet {sheet.table} has no column {sorted(unknown)[0]!r}")
        yield [row.get(heading) for heading in headings]
