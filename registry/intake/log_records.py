"""One row of a log by its mapping: values by table, side and group, each with the cells that it came from.

Nothing here knows of other rows or of the registry; what belongs to whom is found later.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from registry.intake.log_cells import LogCell, LogSheet
from registry.intake.log_day_numbers import day_for_number, is_day, was_number
from registry.intake.log_mapping import ONE, MappedColumn, folded
from registry.intake.log_mapping_binding import BoundSheet
from registry.intake.log_mapping_targets import CONTEXT, Target, column_named, of_side
from registry.intake.log_patterns import Piece, match_first
from registry.intake.log_status import Said, said_by, unknown_word
from registry.intake.log_values import BOTH, translate
from registry.intake.rows import Place
from registry.intake.values import Cell, parse
from registry.schema.sheets import SEPARATOR
from registry.validation.field_words import hides
from registry.validation.findings import FindingList, Problem, Severity, shortened

Key = tuple[str, str, str]
"""Table, side ("" for the row's own) and group: what tells the records of one row apart."""
_UNIT = Target("renal_unit", "unit")
# Of these a row speaks once (of one a side), whatever the group of a column.
ONCE = frozenset({*CONTEXT, "patient_identity", "admission"})


@dataclass(slots=True)
class LogValue:
    """A value, as it would be typed in the intake workbook.

    Attributes:
        cell: the value.
        columns: the indexes of the cells of the row that it came from; none for a constant.
    """

    cell: Cell
    columns: tuple[int, ...] = ()


@dataclass
class RowValues:
    """What a row says, before anything is known of its patient.

    Attributes:
        bound: the sheet that the row is in, with the mapping's entries.
        at: the row's index in the sheet.
        values: values by key and heading.
        statuses: what the row's statuses say of a reading, by its key, each with the index of its column.
        failed: values that stand in the log and could not be read, by key and heading.
        sides: the renal units that the row names for itself, in the order named.
    """

    bound: BoundSheet
    at: int
    values: dict[Key, dict[str, LogValue]] = field(default_factory=dict)
    statuses: dict[Key, list[tuple[Said, int]]] = field(default_factory=dict)
    failed: set[tuple[Key, str]] = field(default_factory=set)
    sides: list[str] = field(default_factory=list)

    @property
    def sheet(self) -> LogSheet:
        """The sheet that the row is in."""
        return self.bound.sheet

    @property
    def number(self) -> int:
        """The row's number as a spreadsheet shows it."""
        return self.sheet.numbers[self.at]

    def value(self, table: str, heading: str, side: str = "", group: str = ONE) -> LogValue | None:
        """A value, or None."""
        return self.values.get((table, side, group), {}).get(heading)

    def place(self, columns: tuple[int, ...] = ()) -> Place:
        """Where some cells of the row stand."""
        letters = ", ".join(self.sheet.columns[at] for at in dict.fromkeys(columns))
        return Place(self.sheet.file, self.sheet.title, self.number, letters)

    def report(
        self, findings: FindingList, columns: tuple[int, ...], problem: Problem, *, hidden: bool = False
    ) -> None:
        """Add a finding at some of the row's cells; a value that could name a person is not shown."""
        columns = tuple(dict.fromkeys(columns))
        place = self.place(columns)
        shown = " / ".join(text for at in columns if (text := self.sheet.rows[self.at][at].text.strip()))
        findings.add(
            problem,
            file=place.file,
            sheet=place.sheet,
            row=place.row,
            column=place.column,
            heading=" / ".join(dict.fromkeys(" ".join(self.sheet.headings[at].split()) for at in columns)),
            value="(not shown)" if hidden and shown else shown,
        )


@dataclass(frozen=True)
class _CellSays:
    """What one cell says by one entry of the mapping."""

    values: tuple[tuple[Key, str, Cell], ...] = ()
    failed: tuple[tuple[Key, str], ...] = ()
    problems: tuple[tuple[Problem, bool], ...] = ()
    status: Said | None = None
    sides: tuple[str, ...] = ()


class RowReader:
    """Reads the rows of a sheet; equal cells of a column are read once."""

    def __init__(self, bound: BoundSheet, findings: FindingList) -> None:
        self._bound, self._findings = bound, findings
        self._read: list[dict[LogCell, _CellSays]] = [{} for _ in bound.columns]

    def row(self, at: int) -> RowValues:
        """The values of a row by its index; what is wrong with its cells goes to the findings."""
        row = RowValues(self._bound, at)
        cells = self._bound.sheet.rows[at]
        for (column, index), read in zip(self._bound.columns, self._read, strict=True):
            if column.where and not self._bound.reads(column, cells):
                continue
            cell = cells[index]
            says = read.get(cell)
            if says is None:
                says = read[cell] = self._says(column, cell)
            self._take(row, column, index, says)
        return row

    def rows(self) -> Iterator[RowValues]:
        """All rows, in order."""
        return map(self.row, range(len(self._bound.sheet.rows)))

    def _says(self, column: MappedColumn, cell: LogCell) -> _CellSays:
        if column.status:
            return _status_says(column, cell)
        dated = column.to and all(map(is_day, column.to))
        day = day_for_number(cell, self._bound.sheet.day_zero) if dated else None
        if day is None:
            return _cell_says(column, cell)
        says = _cell_says(column, day)
        hidden = any(hides(target.info) for target in column.to)
        return replace(says, problems=(*says.problems, (was_number(), hidden)))

    def _take(self, row: RowValues, column: MappedColumn, index: int, says: _CellSays) -> None:
        for problem, hidden in says.problems:
            row.report(self._findings, (index,), problem, hidden=hidden)
        row.failed.update(says.failed)
        row.sides += [side for side in says.sides if side not in row.sides]
        for key, heading, cell in says.values:
            _put(row, key, heading, LogValue(cell, (index,)), self._findings)
        if says.status is not None:
            key = ("reading", column.side, column.group)
            row.statuses.setdefault(key, []).append((says.status, index))


def _put(row: RowValues, key: Key, heading: str, value: LogValue, findings: FindingList) -> None:
    values = row.values.setdefault(key, {})
    before = values.get(heading)
    if before is None:
        values[heading] = value
    elif column_named(key[0], heading).folded:
        listed = dict.fromkeys([*str(before.cell).split(SEPARATOR), *str(value.cell).split(SEPARATOR)])
        values[heading] = LogValue(SEPARATOR.join(listed), before.columns + value.columns)
    elif before.cell == value.cell:
        before.columns = tuple(dict.fromkeys(before.columns + value.columns))
    else:
        info = Target(key[0], heading).info
        why = f"Two cells of the row give {key[0]}.{heading}, and they differ."
        problem = Problem("log.cell.once", Severity.ERROR, why, "one of the two, or the same in both")
        row.report(findings, before.columns + value.columns, problem, hidden=hides(info))


def _cell_says(column: MappedColumn, cell: LogCell) -> _CellSays:
    if column.splits:
        return _split(column, cell)
    parts = _parts(column, cell)
    found = [_plain(column, part, number, len(parts)) for number, part in enumerate(parts, start=1)]
    return _joined(found)


def _plain(column: MappedColumn, cell: LogCell, number: int, count: int) -> _CellSays:
    says = []
    for target in column.to:
        group = column.group if target.column.folded else _group(column, number if column.separator else 0)
        says.append(_one(column, cell, target, column.side, group))
    return _joined(says)


def _split(column: MappedColumn, cell: LogCell) -> _CellSays:
    whole = translate(LogCell(cell.text, cell.text), _wording_of(column), replace(column.form, values={}))
    known = column.form.values.get("", {})
    if whole.cell is None or known.get(folded(cell.text)) == "":
        return _CellSays()
    says, side = [], column.side
    parts = _parts(column, cell)
    for number, part in enumerate(parts, start=1):
        pieces = match_first(column.splits, part.text)
        if pieces is None:
            patterns = " or ".join(pattern.text for pattern in column.splits)
            hidden = any(hides(target.info) for target in column.targets)
            shown = "The cell" if hidden else f"'{shortened(part.text.strip())}'"
            problem = Problem("log.split", Severity.ERROR, f"{shown} follows none of the patterns.", patterns)
            says.append(_CellSays(problems=((problem, hidden),)))
            continue
        named = [_one(column, _piece(text), piece.target, "", ONE) for piece, text in pieces if piece.target == _UNIT]
        says += named
        side = next((one.sides[0] for one in named if len(one.sides) == 1), side)
        for piece, text in pieces:
            if piece.target != _UNIT:
                group = _group(column, number if column.separator else 0, piece.turn)
                says.append(_one(column, _piece(text), piece.target, side, group, piece))
    return _joined(says)


def _wording_of(column: MappedColumn) -> Target:
    """A target that takes any wording, by which a cell that is split is asked whether it is blank or missing."""
    return Target("reading", "wording")


def _piece(text: str) -> LogCell:
    return LogCell(text, text)


def _one(
    column: MappedColumn, cell: LogCell, target: Target, side: str, group: str, piece: Piece | None = None
) -> _CellSays:
    key = key_of(target, side, group)
    said = translate(cell, target, column.form, unit=piece.unit if piece else "")
    if said.problem is not None:
        hidden = hides(target.info)
        problem = _unnamed(said.problem) if hidden else said.problem
        return _CellSays(failed=((key, target.heading),), problems=((problem, hidden),))
    if said.cell is None:
        return _CellSays()
    if target == _UNIT and not column.side:
        sides = named_sides(said.cell)
        if sides:
            return _CellSays(sides=sides)
    return _CellSays(values=((key, target.heading, said.cell),))


def key_of(target: Target, side: str, group: str) -> Key:
    """The key of the record that a value belongs to."""
    table = target.table
    return table, side if table not in ONCE or of_side(table) else "", ONE if table in ONCE else group


def named_sides(cell: Cell) -> tuple[str, ...]:
    """The renal units that a cell names; empty where it names none that is known."""
    if isinstance(cell, str) and folded(cell) == BOTH:
        return ("left", "right")
    value = parse(_UNIT.info, cell).value
    return () if value is None else (str(value),)


def _status_says(column: MappedColumn, cell: LogCell) -> _CellSays:
    assert column.status is not None
    word = folded(cell.text)
    said = said_by(column.status, word) if word else None
    if said is not None:
        return _CellSays(status=said)
    word = word or folded(column.form.blank)
    if not word or word in column.form.missing:
        return _CellSays()
    said = said_by(column.status, word)
    if said is not None:
        return _CellSays(status=said)
    key = ("reading", column.side, column.group)
    problem = unknown_word(column.status, shortened(cell.text.strip() or word))
    return _CellSays(failed=((key, "finding"),), problems=((problem, False),))


def _parts(column: MappedColumn, cell: LogCell) -> list[LogCell]:
    if not column.separator or column.separator not in cell.text:
        return [cell]
    return [_piece(part.strip()) for part in cell.text.split(column.separator) if part.strip()]


def _group(column: MappedColumn, number: int, turn: int = 1) -> str:
    """The group of an entry of a cell: of the n-th that is listed, or of a field that stands in it again."""
    place = number if number else turn
    if place <= 1 and not number:
        return column.group
    return str(place) if column.group == ONE else f"{column.group} {place}"


def _joined(says: list[_CellSays]) -> _CellSays:
    if len(says) == 1:
        return says[0]
    return _CellSays(
        tuple(value for one in says for value in one.values),
        tuple(failed for one in says for failed in one.failed),
        tuple(problem for one in says for problem in one.problems),
        None,
        tuple(dict.fromkeys(side for one in says for side in one.sides)),
    )


def _unnamed(problem: Problem) -> Problem:
    """A problem of a value that could name a person, without the value."""
    why = "The value cannot be read"
    if problem.rule.endswith(".swapped"):
        why += ": it is not in the calendar by the declared form; day and month were changed over"
    return Problem(problem.rule, problem.severity, f"{why}.", "a value as the mapping declares it")
