"""From the cells of a sheet to its table: headings, and rows that are all as wide as them."""

from __future__ import annotations

from registry.intake.log_cells import EMPTY, LogSheet, Reading
from registry.intake.log_heading_rows import folded, heading_rows
from registry.intake.log_headings import check_headings, join_headings
from registry.intake.log_merges import fill_merged
from registry.intake.log_passing import Passing
from registry.intake.log_raw import RawSheet, Row, filled
from registry.intake.log_remarks import Remarks, rows
from registry.intake.log_shown import awkward_in
from registry.schema.xlsx_parts import letters

_LOST_LETTER = "U+FFFD"


def table_of(raw: RawSheet, reading: Reading, remarks: Remarks) -> LogSheet:
    """Find the headings of a sheet and the rows below them.

    Args:
        raw: the sheet; merged cells in it are filled.
        reading: what the mapping says of headings, totals and the end.
        remarks: takes all that is said about the sheet.

    Raises:
        GravelbookError: the headings cannot be told.
    """
    heads = heading_rows(raw, reading.headings_in_rows, remarks.place)
    headings = join_headings(raw, heads)
    if raw.merges:
        fill_merged(raw, heads[-1] + 1, remarks)
    kept = Passing(raw, heads, reading, remarks).cases()
    if raw.workbook:
        headings += [""] * (_unheaded(raw, kept, len(headings)) - len(headings))
    else:
        headings += [""] * (max(len(raw.rows[at]) for at in heads) - len(headings))
    width = len(headings)
    _report_width(raw, kept, width, remarks)
    sheet = LogSheet(remarks.file, raw.title, headings, [], day_zero=raw.day_zero)
    sheet.numbers = [raw.numbers[at] for at in kept]
    sheet.rows = [_as_wide(raw.rows[at], width) for at in kept]
    columns = _filled_columns(sheet)
    while sheet.headings and not sheet.headings[-1] and len(sheet.headings) - 1 not in columns:
        sheet.headings.pop()
    if len(sheet.headings) < width:
        sheet.rows = [row[: len(sheet.headings)] for row in sheet.rows]
    sheet.columns = [letters(at) for at in range(len(sheet.headings))]
    sheet.hidden = raw.hidden_rows.intersection(sheet.numbers)
    check_headings(sheet.headings, columns, raw.numbers[heads[-1]], remarks)
    _report_cells(raw, heads, sheet, remarks, reading.unread)
    return sheet


def _as_wide(row: Row, width: int) -> Row:
    if len(row) == width:
        return row
    return row[:width] if len(row) > width else row + [EMPTY] * (width - len(row))


def _unheaded(raw: RawSheet, kept: list[int], width: int) -> int:
    """How wide a workbook's sheet is: a column beyond the headings counts when several rows fill it."""
    times: dict[int, int] = {}
    for at in kept:
        for column in range(width, len(raw.rows[at])):
            if filled(raw.rows[at][column]):
                times[column] = times.get(column, 0) + 1
    return max((column + 1 for column, rows_ in times.items() if rows_ > 1), default=width)


def _report_width(raw: RawSheet, kept: list[int], width: int, remarks: Remarks) -> None:
    short: list[int] = []
    for at in kept:
        row = raw.rows[at]
        if len(row) > width and (beyond := [n for n in range(width, len(row)) if filled(row[n])]):
            why = (
                f"Row {raw.numbers[at]} has more cells than there are headings: {len(beyond)} of them, from column "
                f"{letters(beyond[0])} on, have no place."
            )
            right = (
                "a heading over each column, or no stray cells"
                if raw.workbook
                else "cells with the delimiter in quotes"
            )
            remarks.error("row_width", why, right, row=raw.numbers[at], at=beyond[0])
        elif len(row) < width and not raw.workbook:
            short.append(raw.numbers[at])
    if short:
        cells = f"{rows(short)} {'have' if len(short) > 1 else 'has'} fewer cells than there are headings"
        remarks.note("row_width", f"{cells}; the missing ones were read as blank.", row=short[0])


def _filled_columns(sheet: LogSheet) -> set[int]:
    """The columns without a heading that hold cells."""
    unheaded = [at for at, heading in enumerate(sheet.headings) if not heading]
    return {at for at in unheaded if any(filled(row[at]) for row in sheet.rows)}


def _report_cells(raw: RawSheet, heads: list[int], sheet: LogSheet, remarks: Remarks, unread: frozenset[str]) -> None:
    """Faulty cells, characters nobody types, and what is hidden."""
    read = set(sheet.numbers) | {raw.numbers[at] for at in heads}
    passed = {at for at, name in enumerate(sheet.headings) if unread & {folded(name), sheet.columns[at]}}
    for (number, at), why in sorted(raw.faults.items()):
        if number in read and at < len(sheet.headings) and at not in passed:
            right = "the value itself, typed or pasted as a value"
            remarks.error("cell.value", why, right, row=number, at=at, heading=sheet.headings[at])
    if raw.awkward:
        for number, row in zip(sheet.numbers, sheet.rows, strict=True):
            for at, cell in enumerate(row):
                if cell.text in raw.awkward:
                    _report_character(cell.text, number, at, remarks)
    if sheet.hidden:
        why = f"{rows(sheet.hidden)} {'are' if len(sheet.hidden) > 1 else 'is'} hidden in the spreadsheet, and read."
        remarks.note("hidden_rows", why, row=min(sheet.hidden))
    hidden = [letters(at) for at in raw.hidden_columns if at < len(sheet.headings)]
    if hidden:
        remarks.note(
            "hidden_columns",
            f"Hidden in the spreadsheet and read: column{'s' * (len(hidden) > 1)} {', '.join(hidden)}.",
        )


def _report_character(text: str, number: int, at: int, remarks: Remarks) -> None:
    code = awkward_in(text)
    what = (
        "a letter that was lost when the file was written" if code == _LOST_LETTER else "a character that nobody types"
    )
    remarks.question("character", f"The cell holds {what} ({code}).", "the cell typed anew", row=number, at=at)
