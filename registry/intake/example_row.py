"""The example row of the template: how it is made, and how it is told from a row of the unit's own."""

from __future__ import annotations

from datetime import date, datetime
from functools import cache
from typing import Any, Literal

from registry.intake.values import parse
from registry.schema.fields import Code, Day, FieldInfo, Moment, Note, Number, Secret, Text, Whole
from registry.schema.local_fields import VALUE, subject_of
from registry.schema.sheets import Sheet, SheetColumn, as_typed
from registry.validation.findings import Problem, Severity

ROW_NOTE = "row_note"
MARK = "example: this row is not read"
NAME = "EXAMPLE"
_MARK_WORD = "example"
# Fields whose examples say something together: one side on which everything was done.
_TOGETHER: dict[tuple[str, str], Any] = {
    ("operation", "age_years"): 54,
    ("side_technique", "technique"): "flexible; mini_percutaneous; shock_wave",
    ("treated_side", "exit_strategy"): "stent",
    ("treated_side", "stage_number"): 0,
    ("lithotripsy_setting", "pulse_energy_j"): 0.5,
    ("lithotripsy_setting", "frequency_hz"): 20,
    ("lithotripsy_setting", "total_energy_kj"): 6,
    ("lithotripsy_setting", "emission_min"): 10,
    ("reading", "finding"): "fragments",
}
# Shown though nothing needs it: with a course and a blank here the example would be an unplanned retreatment. Templates
# handed out before this left it blank, and that is the example too.
_SHOWN_BESIDES = frozenset({("treated_side", "stage_number")})


@cache
def example_row(sheet: Sheet) -> dict[str, Any]:
    """The example's cells by heading: what names the row and what is needed at some stage; the rest is blank."""
    cells = {c.heading: _example(c.info) for c in sheet.columns if _is_shown(c)}
    subject = subject_of(sheet.table)
    # The example of a local field is the first kind of field, a whole number; its values stand in its subject's sheet.
    return cells if subject is None else cells | {"belongs_to": subject, VALUE: "3"}


def _is_shown(column: SheetColumn) -> bool:
    info = column.info
    links_there = bool(column.links) and info.required
    return (
        column.in_key
        or info.needed is not None
        or bool(column.folded)
        or links_there
        or isinstance(info.kind, Secret)
        or (info.table, info.name) in _SHOWN_BESIDES
    )


def _example(info: FieldInfo) -> Any:
    """A value that the field's own rules accept, and those of several fields together."""
    if (info.table, info.name) in _TOGETHER:
        return _TOGETHER[info.table, info.name]
    match info.kind:
        case Code(list=codes):
            return codes.codes()[0]
        case Whole(low=low) if info.default is not None:
            return info.default if low is None or info.default >= low else low
        case Whole() | Number():
            return as_typed(info, _middle(info))
        case Day(imprecise=True):
            return "2024-05"
        case Day():
            return date(2024, 5, 3)
        case Moment():
            return "2024-05-03T08:30+02:00"
        case Secret() if info.name.endswith("_date"):
            return "1970-01-31"
        case Text() | Note() | Secret():
            return str(info.default) if info.default is not None else NAME
    raise LookupError(f"{info.table}.{info.name} is not typed by people")


def _middle(info: FieldInfo) -> int | float:
    assert isinstance(info.kind, Whole | Number)
    low, high = info.kind.plausible or (info.kind.low, info.kind.high)
    if info.unit == "year":
        return 1970
    low = 0 if low is None else low
    middle = (low + (low + 10 if high is None else high)) / 2
    return int(middle) if isinstance(info.kind, Whole) or middle > 10 else round(middle, 2)


def is_example(sheet: Sheet, cells: dict[str, Any], note: str) -> Problem | Literal[True] | None:
    """Whether a row is the template's example: True, or None when it is the unit's own.

    It is when it says so in its last column, or when every cell is the example's, so that it is passed over even if
    that column was removed. A row that says it is an example and holds anything else is a problem: it may be a case
    that was typed over the example and would be lost.
    """
    marked = note.strip().casefold().startswith(_MARK_WORD)
    if not marked and NAME not in cells.values():
        return None
    if _same(sheet, cells):
        return True
    named = any(cells.get(c.heading) == NAME for c in sheet.columns if c.in_key)
    if marked or named:
        why = "The row is marked as the template's example, but its cells are not the example's."
        right = f"the case's own site and numbers, and an empty {ROW_NOTE}; or no such row"
        return Problem("row.example", Severity.ERROR, why, right)
    return None


def _same(sheet: Sheet, cells: dict[str, Any]) -> bool:
    wanted = example_row(sheet)
    for column in sheet.columns:
        if column.heading not in cells:
            continue
        if (column.info.table, column.info.name) in _SHOWN_BESIDES and cells[column.heading] in (None, ""):
            continue
        if _comparable(column.info, cells[column.heading]) != _comparable(column.info, wanted.get(column.heading)):
            return False
    return True


def _comparable(info: FieldInfo, cell: Any) -> Any:
    # A spreadsheet may have saved the example's text as a number or a date: compare what would be stored.
    if isinstance(cell, datetime) and cell == datetime(cell.year, cell.month, cell.day):
        cell = cell.date()
    return parse(info, None if cell == "" else cell).value
