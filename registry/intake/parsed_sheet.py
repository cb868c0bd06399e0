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
        if problem.severity is Severity.NOTE:
            return
        for also in self.rows.also(index, heading):
            findings.add(
                problem,
                file=also.file,
                sheet=also.sheet,
                row=also.row,
                column=also.column,
                heading=self.rows.shown_heading(index, heading),
                value="" if shown is None else shown,
            )


Known = dict[tuple[FieldInfo, bool], dict[Any, tuple[Parsed, Cell]]]
"""What cells were read as: by declaration and whether the column speaks of another row; by cell."""


def parse_sheet(rows: SheetRows, findings: FindingList, today: date, known: Known | None = None) -> ParsedSheet:
    """Read every cell of a sheet; what is wrong with a cell is a finding at its place.

    Args:
        rows: the addressed cells.
        findings: takes what is wrong.
        today: the last day that may be recorded as past.
        known: how the keys in the sheets before were read; takes those of this one. A study number stands in forty
            sheets, and is read and kept once.
    """
    sheet = ParsedSheet(rows)
    for column in rows.sheet.columns:
        cells = rows.cells.get(column.heading)
        if cells is None or cells.count(None) == len(cells):
            sheet.values[column.heading] = [()] * len(rows) if column.folded else [None] * len(rows)
            continue
        if subject_of(rows.sheet.table) is not None and column.path == (VALUE,):
            # What such a cell may hold is declared by another row: it is read when that row is known.
            sheet.values[column.heading] = [None if isinstance(c, str) and not c.strip() else c for c in cells]
            continue
        info = own_rules(rows.sheet.table, column)
        is_key = known is not None and not column.folded and (column.in_key or bool(column.links))
        before = known.setdefault((info, len(column.path) > 1), {}) if known is not None and is_key else {}
        keys, read = _readings(column, info, cells, today, before)
        _take(sheet, column, keys, read, findings)
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


def _readings(
    column: SheetColumn, info: FieldInfo, cells: list[Cell], today: date, before: dict[Any, tuple[Parsed, Cell]]
) -> tuple[list[Any], dict[Any, Parsed]]:
    """A key for each cell of a column, equal for equal cells, and what the cells of each key were read as."""
    keys: list[Any] = cells
    if bool in set(map(type, cells)):
        # True and 1 are the same key of a dictionary, but not the same cell.
        keys = [("truth", cell) if cell is True or cell is False else cell for cell in cells]
    read: dict[Any, Parsed] = {}
    kept: dict[Any, Cell] = {}
    for key in dict.fromkeys(keys):
        if key is None:
            read[key], kept[key] = BLANK, None
            continue
        found = before.get(key)
        if found is None:
            cell = key[1] if type(key) is tuple else key
            found = before[key] = _reading(column, info, cell, today), cell
        read[key], kept[key] = found
    cells[:] = map(kept.__getitem__, keys)  # equal cells share one object, so that a long column fits in memory
    return keys, read


def _reading(column: SheetColumn, info: FieldInfo, cell: Cell, today: date) -> Parsed:
    found = _folded(info, cell, today) if column.folded else parse(info, cell, today)
    if len(column.path) > 1 and found.problems:
        # Whether a value is likely is asked where it belongs, not wherever it names a row.
        return replace(found, problems=tuple(p for p in found.problems if p.severity is Severity.ERROR))
    return found


def _take(
    sheet: ParsedSheet, column: SheetColumn, keys: list[Any], read: dict[Any, Parsed], findings: FindingList
) -> None:
    heading, blank = column.heading, () if column.folded else None
    values = {key: blank if p.failed or p.value is None else p.value for key, p in read.items()}
    sheet.values[heading] = list(map(values.__getitem__, keys))
    special = {key: p for key, p in read.items() if p.problems or p.reason or p.typed or p.precision}
    if not special:
        return
    if any(p.precision for p in special.values()):
        precisions = {key: p.precision for key, p in read.items()}
        sheet.precision[heading] = list(map(precisions.__getitem__, keys))
    for index, key in enumerate(keys):
        p = special.get(key)
        if p is None:
            continue
        if p.reason:
            sheet.reasons.setdefault(heading, {})[index] = p.reason
        if p.typed:
            sheet.typed.setdefault(heading, {})[index] = p.typed
        for problem in p.problems:
            sheet.report(findings, index, heading, problem)
        if p.failed:
            sheet.failed.setdefault(heading, set()).add(index)


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
