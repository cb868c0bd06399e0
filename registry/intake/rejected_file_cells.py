"""Cells of workbooks that go back to a person: what stood in the file, never turned into something else."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from registry.intake.cell_texts import cell_text
from registry.validation.findings import Finding

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

CELL_FAULT = "cell.value"
"""The rule of cells that hold an error or a formula without a result."""
UNKNOWN_FAULT = "#N/A"
TEXT = "@"
_FORMATS: tuple[tuple[type, str], ...] = (
    (datetime, "yyyy-mm-dd hh:mm:ss"),
    (date, "yyyy-mm-dd"),
    (time, "hh:mm:ss"),
    (timedelta, "[h]:mm:ss"),
)


def put_value(sheet: Worksheet, row: int, column: int, value: Any, number_format: str | None = None) -> Any:
    """Put a value into a cell; text stays text, whatever it looks like.

    Args:
        sheet: the sheet.
        row: the row's number from 1.
        column: the column's number from 1.
        value: text, a number, a truth value, a date, a time, a duration or None.
        number_format: how the cell was shown in the file; else one that suits the value.

    Returns:
        The cell.
    """
    cell: Any = sheet.cell(row, column)
    if isinstance(value, str):
        cell._value, cell.data_type = cell_text(value), "s"
        cell.number_format = number_format or TEXT
    elif value is not None:
        cell.value = value
        wanted = number_format or next((shape for kind, shape in _FORMATS if isinstance(value, kind)), None)
        if wanted is not None:
            cell.number_format = wanted
    return cell


def put_fault(sheet: Worksheet, row: int, column: int, said: str) -> None:
    """Put an error into a cell that held one, so that it cannot be loaded as a blank when nobody mends it.

    Args:
        sheet: the sheet.
        row: the row's number from 1.
        column: the column's number from 1.
        said: a text that names the error, if it is known which.
    """
    from openpyxl.cell.cell import ERROR_CODES

    cell: Any = sheet.cell(row, column)
    cell._value, cell.data_type = next((code for code in ERROR_CODES if code in said), UNKNOWN_FAULT), "e"


def reasons_text(found: Iterable[Finding]) -> str:
    """Why a row was not loaded, one line a reason; no value of the row is repeated beyond what its sentence says."""
    lines = []
    for finding in found:
        right = f" Right would be: {finding.right}." if finding.right else ""
        lines.append(f"{finding.heading}: {finding.why}{right}" if finding.heading else f"{finding.why}{right}")
    return "\n".join(dict.fromkeys(lines))
