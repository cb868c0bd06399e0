"""What the tests of rejected rows share: a workbook of rejected rows mended, and two registries compared."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl

from registry.intake.workbook_writer import write_workbook
from registry.store.registry import Registry
from tests.intake.books import put

Content = dict[str, set[tuple[tuple[str, Any], ...]]]


def content(registry: Registry, path: Path) -> Content:
    """Everything clinical that a registry holds, by natural keys: its rows by sheet, whatever their order and ids."""
    write_workbook(registry, path, overwrite=True)
    found: Content = {}
    for sheet in openpyxl.load_workbook(path).worksheets:
        headings, *rows = sheet.iter_rows(values_only=True)
        if not rows or sheet.title == "read me":
            continue
        found[sheet.title] = {
            tuple((str(h), v) for h, v in zip(headings, row, strict=True) if v is not None) for row in rows
        }
        assert len(found[sheet.title]) == len(rows)
    return found


def rejected_rows(path: Path) -> dict[str, list[dict[str, Any]]]:
    """The rows of a workbook of rejected rows by sheet and heading."""
    found = {}
    for sheet in openpyxl.load_workbook(path).worksheets:
        headings, *rows = sheet.iter_rows(values_only=True)
        found[sheet.title] = [dict(zip(map(str, headings), row, strict=True)) for row in rows]
    return found


def mend(path: Path, changes: Mapping[tuple[str, int, str], Any], target: Path) -> Path:
    """Change cells of a workbook, named by sheet, row in the original file and heading; None for all takes a row out.

    Args:
        path: the workbook of rejected rows.
        changes: the new values.
        target: where the mended workbook goes.
    """
    book = openpyxl.load_workbook(path)
    for (title, number, heading), value in changes.items():
        sheet = book[title]
        headings = {cell.value: cell.column for cell in sheet[1]}
        row = next(r for r in range(2, sheet.max_row + 1) if sheet.cell(r, headings["row in the file"]).value == number)
        if heading:
            put(sheet.cell(row, headings[heading]), value)
        else:
            sheet.delete_rows(row)
    book.save(target)
    return target
