"""The mess that real logs are in, each kind to be switched on by itself; what it wipes out is written down."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import date
from typing import Any

from synthetic_cohort.logs.columns import Column
from synthetic_cohort.logs.grid import Cell, ErrorCell, Formula, Line, LineKind, Page
from synthetic_cohort.logs.style import Style, blank
from synthetic_cohort.logs.xlsx_pages import serial

_HEAVY = 3.0
_MOST = 0.5


@dataclass(frozen=True)
class Mess:
    """How often each kind of mess happens: shares of cells or of lines, or whether at all (0 or 1).

    Attributes:
        bom: text files begin with the mark of UTF-8.
        blank_lines: blank lines between cases.
        repeated_headings: the headings again, as after a page break.
        totals: lines of totals at the end of a page.
        hidden_lines: lines that the spreadsheet hides; what they say still counts.
        hidden_sheet: an old sheet that is hidden and no longer counts.
        merged_cells: the patient's cells of two lines of one operation are merged.
        copies: identical copies of lines.
        numbers_as_text: numbers stored as text.
        units_in_cells: the unit written after the number.
        missing_marks: a mark of a missing value in a blank cell.
        wiped_out: a mark of a missing value where there was one: that value is lost.
        serial_days: days that have lost their format and show as numbers.
        formulas: numbers that are the stored result of a formula.
        error_cells: formulas that failed, in a column that nothing is read from.
        stray_blanks: blanks around words, no-break blanks among them.
    """

    bom: float = 1.0
    blank_lines: float = 0.02
    repeated_headings: float = 0.01
    totals: float = 1.0
    hidden_lines: float = 0.02
    hidden_sheet: float = 1.0
    merged_cells: float = 1.0
    copies: float = 0.02
    numbers_as_text: float = 0.05
    units_in_cells: float = 0.02
    missing_marks: float = 0.05
    wiped_out: float = 0.01
    serial_days: float = 0.03
    formulas: float = 0.03
    error_cells: float = 0.1
    stray_blanks: float = 0.03

    @classmethod
    def none(cls) -> Mess:
        """A log as if a machine had kept it."""
        return cls(**{field.name: 0.0 for field in fields(cls)})

    @classmethod
    def usual(cls) -> Mess:
        """As logs are."""
        return cls()

    @classmethod
    def heavy(cls) -> Mess:
        """Three times the usual of everything."""
        usual = cls()
        return cls(
            **{f.name: min(getattr(usual, f.name) * _HEAVY, 1.0 if getattr(usual, f.name) == 1 else _MOST)
               for f in fields(cls)}
        )  # fmt: skip

    def only(self, *names: str) -> Mess:
        """This mess with the named kinds alone."""
        return replace(Mess.none(), **{name: getattr(self, name) for name in names})


def in_cells(style: Style, pages: Sequence[Page], mess: Mess, chance: random.Random) -> None:
    """Change cells of the lines that no planted error speaks of."""
    for page in pages:
        columns = style.table(page).columns
        for line in page.data:
            if line.planted is None:
                for column, cell in zip(columns, line.cells, strict=True):
                    _in_cell(style, page, column, cell, mess, chance)


def _in_cell(style: Style, page: Page, column: Column, cell: Cell, mess: Mess, chance: random.Random) -> None:
    value = cell.value
    ignored = not column.source and column.cell is None
    if ignored:
        if style.workbook and chance.random() < mess.error_cells:
            cell.value = ErrorCell("#DIV/0!")
    elif str(value) in style.marks and str(value).isdigit():
        cell.lost = True  # a number that the unit's own convention takes for a missing one
    elif value is None:
        if not column.vital and chance.random() < mess.missing_marks:
            cell.value = chance.choice(style.marks)
    elif not column.vital and chance.random() < mess.wiped_out:
        cell.value, cell.lost = chance.choice(style.marks), True
    elif cell.as_text and chance.random() < mess.units_in_cells:
        cell.value = cell.as_text
    elif style.workbook and not isinstance(value, str):
        cell.value = _stored_otherwise(page, value, mess, chance)
    elif isinstance(value, str) and chance.random() < mess.stray_blanks:
        cell.value = chance.choice((f" {value}", f"{value} ", f"{value}\u00a0"))


def _stored_otherwise(page: Page, value: Any, mess: Mess, chance: random.Random) -> Any:
    """What a spreadsheet stores in place of a plain day or number."""
    if isinstance(value, date):
        return serial(value, epoch_1904=page.epoch_1904) if chance.random() < mess.serial_days else value
    if chance.random() < mess.numbers_as_text:
        return f"{value:g}" if float(f"{value:g}") == value else str(value)
    return Formula(f"{value}*1", value) if chance.random() < mess.formulas else value


def in_lines(style: Style, pages: list[Page], mess: Mess, chance: random.Random) -> None:
    """Put lines between the lines, hide some, merge cells, and add the hidden old sheet."""
    first = {page.file: page for page in reversed(pages)}
    for page in pages:
        columns = style.table(page).columns
        headings = [line for line in page.lines if line.kind is LineKind.HEADING]
        waiting: list[tuple[int, Line]] = []
        lines: list[Line] = []
        for line in page.lines:
            due = [copy for at, copy in waiting if at <= len(lines)]
            waiting = [(at, copy) for at, copy in waiting if at > len(lines)]
            lines += due
            lines.append(line)
            if line.kind is not LineKind.DATA:
                continue
            if style.workbook and chance.random() < mess.hidden_lines:
                line.hidden = True
            if line.planted is None and chance.random() < mess.copies:
                waiting.append((len(lines) + chance.randint(0, 3), line.copied(LineKind.COPY)))
            if chance.random() < mess.blank_lines:
                lines.append(blank(len(columns)))
            if chance.random() < mess.repeated_headings:
                lines += [heading.copied(LineKind.NOISE) for heading in headings]
        lines += [copy for _, copy in waiting]
        if mess.totals:
            lines += [blank(len(columns)), _totals(style, page)]
        page.lines = lines
        if style.workbook and mess.merged_cells:
            _merge(columns, page)
    if style.workbook and mess.hidden_sheet:
        for file, page in first.items():
            old = [line.copied(LineKind.NOISE) for line in page.lines[:8]]
            pages.append(Page(file, "old", old, hidden=True, epoch_1904=page.epoch_1904, about=page.about))


def _totals(style: Style, page: Page) -> Line:
    """The word, how many cases there are, and the sum of a column or two."""
    columns = style.table(page).columns
    line = blank(len(columns), style.total)
    line.cells[1] = Cell(len(page.data) if style.workbook else str(len(page.data)))
    for at, column in enumerate(columns):
        if column.targets == ("operation.operating_min",):
            total = sum(cell.value for of in page.data if isinstance((cell := of.cells[at]).value, int))
            line.cells[at] = Cell(Formula(f"SUM({total})", total) if style.workbook else "")
    return line


def _merge(columns: Sequence[Column], page: Page) -> None:
    """Merge what two lines of one operation say of the patient."""
    about_patient = [n for n, column in enumerate(columns) if column.source.startswith("patient.")]
    for at, (line, after) in enumerate(zip(page.lines, page.lines[1:], strict=False)):
        if not (line.kind is after.kind is LineKind.DATA) or line.planted or after.planted:
            continue
        one, other = line.entry[0], after.entry[0]
        if (one.number, one.on) != (other.number, other.on):
            continue
        for n in about_patient:
            if line.cells[n].value is not None and after.cells[n].value is not None:
                after.cells[n].value = None
                page.merged.append((at, n, at + 1, n))
