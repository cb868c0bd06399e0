"""From addressed cells to typed columns: every distinct cell of a column is read once."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from registry.intake.rows import SheetRows
from registry.intake.values import BLANK, Cell, Parsed, parse
from registry.schema.fields import FieldInfo, info_of
from registry.schema.local_fields import VALUE, subject_of
from registry.schema.sheets import SEPARATOR, SheetColumn
from registry.schema.tables import metadata
from registry.validation.field_rules import rule_id
from registry.validation.field_words import hides
from registry.validation.findings import FindingList, Problem, Severity


@dataclass
class ParsedSheet:
    """The typed columns of one sheet.

    Attributes:
        rows: the addressed cells they were read from.
        values: by heading, one stored value a row; None where it is blank, missing for a reason, or not read.
            A folded list is a tuple of codes.
        precision: by heading of a date that may be imprecise, one precision a row.
        reasons: by heading, the reason for a missing value by row index.
        typed: by heading, the wording of a value typed in another unit by row index.
        failed: by heading, the row indexes whose cell was not read.
    """

    rows: SheetRows
    values: dict[str, list[Any]] = field(default_factory=dict)
    precision: dict[str, list[str | None]] = field(default_factory=dict)
    reasons: dict[str, dict[int, str]] = field(default_factory=dict)
    typed: dict[str, dict[int, str]] = field(default_factory=dict)
    failed: dict[str, set[int]] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def table(self) -> str:
        """The table that the sheet fills."""
        return self.rows.sheet.table

    def report(self, findings: FindingList, index: int, heading: str, problem: Problem, value: Any = None) -> None:
        """Add a finding at a row and heading of this sheet; the cell is shown unless it could name a person."""
        place = self.rows.place(index, heading)
        column = next((c for c in self.rows.sheet.columns if c.heading == heading), None)
        shown = value if value is not None else self.rows.wording(index, heading)
        if column is not None and hides(column.info) and shown is not None:
            shown = "(not shown)"
        if isinstance(shown, float) and shown.is_integer():
            shown = int(shown)  # as the spreadsheet shows it: every number of a workbook is a double
        findings.add(
            problem,
            file=place.file,
            sheet=place.sheet,
            row=place.row,
            column=place.column,
            heading=self.rows.shown_heading(index, heading),
            value="" if shown is None else shown,
        )


def parse_sheet(rows: SheetRows, findings: FindingList, today: date) -> ParsedSheet:
    """Read every cell of a sheet; what is wrong with a cell is a finding at its place."""
    sheet = ParsedSheet(rows)
    for column in rows.sheet.columns:
        cells = rows.cells.get(column.heading)
        if cells is None:
            sheet.values[column.heading] = [()] * len(rows) if column.folded else [None] * len(rows)
            continue
        if subject_of(rows.sheet.table) is not None and column.path == (VALUE,):
            # What such a cell may hold is declared by another row: it is read when that row is known.
            sheet.values[column.heading] = [None if isinstance(c, str) and not c.strip() else c for c in cells]
            continue
        parsed = _parsed_column(column, own_rules(rows.sheet.table, column), cells, today)
        _take(sheet, column, parsed, findings)
    return sheet


def own_rules(table: str, column: SheetColumn) -> FieldInfo:
    """A column's declaration as it counts in this sheet: what names an optional link may be left out."""
    if not column.links:
        return column.info
    columns = metadata.tables[table].columns
    return (
        column.info
        if any(info_of(columns[name]).required for name in column.links)
        else replace(column.info, needed=None)
    )


def _parsed_column(column: SheetColumn, info: FieldInfo, cells: list[Cell], today: date) -> list[Parsed]:
    read: dict[Any, Parsed] = {None: BLANK}
    kept: dict[Any, Cell] = {}
    parsed: list[Parsed] = []
    for row, cell in enumerate(cells):
        # True and 1 are the same key of a dictionary, but not the same cell.
        key = ("truth", cell) if cell is True or cell is False else cell
        found = read.get(key)
        if found is None:
            found = _folded(info, cell, today) if column.folded else parse(info, cell, today)
            if len(column.path) > 1 and found.problems:
                # Whether a value is likely is asked where it belongs, not wherever it names a row.
                found = replace(found, problems=tuple(p for p in found.problems if p.severity is Severity.ERROR))
            read[key], kept[key] = found, cell
        elif cell is not None:
            cells[row] = kept[key]  # equal cells share one object, so that a long column fits in memory
        parsed.append(found)
    return parsed


def _take(sheet: ParsedSheet, column: SheetColumn, parsed: list[Parsed], findings: FindingList) -> None:
    heading = column.heading
    sheet.values[heading] = [p.value for p in parsed]
    if column.folded:
        sheet.values[heading] = [value or () for value in sheet.values[heading]]
    special = set(map(id, parsed))
    distinct = {id(p): p for p in parsed}
    special = {key for key, p in distinct.items() if p.problems or p.reason or p.typed or p.precision}
    if not special:
        return
    if any(distinct[key].precision for key in special):
        sheet.precision[heading] = [p.precision for p in parsed]
    for index, p in enumerate(parsed):
        if id(p) not in special:
            continue
        if p.reason:
            sheet.reasons.setdefault(heading, {})[index] = p.reason
        if p.typed:
            sheet.typed.setdefault(heading, {})[index] = p.typed
        for problem in p.problems:
            sheet.report(findings, index, heading, problem)
        if p.failed:
            sheet.failed.setdefault(heading, set()).add(index)
            sheet.values[heading][index] = () if column.folded else None


def _folded(info: FieldInfo, cell: Cell, today: date) -> Parsed:
    """Several codes of one cell, in the order of their list."""
    optional = replace(info, needed=None)
    parts = cell.split(SEPARATOR.strip()) if isinstance(cell, str) else [cell]
    parsed = [parse(optional, part, today) for part in parts]
    problems = [problem for p in parsed for problem in p.problems]
    if problems and isinstance(cell, str) and "," in cell:
        problems = [replace(p, right=f"several codes separated by semicolons; {p.right}") for p in problems]
    if any(p.reason for p in parsed):
        why = "A list of codes cannot be missing for a stated reason."
        problems.append(Problem(rule_id(info, "listed"), Severity.ERROR, why, "the codes, or a blank cell"))
    order = {code: n for n, code in enumerate(info.kind.list.codes())}  # type: ignore[union-attr]
    codes = tuple(sorted({str(p.value) for p in parsed if p.value is not None}, key=lambda code: order[code]))
    return Parsed(codes, problems=tuple(problems))
