"""A report as a page to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from analysis.reports.sections.render_json import plain
from analysis.reports.sections.report import DERIVED, Column, Report, Section
from analysis.tables.plain_text import aligned, labelled, paragraph
from analysis.tables.rounding import (
    NOTHING,
    known,
    number,
    percent,
    percent_range,
    points,
    points_range,
    ratio,
    ratio_range,
)
from analysis.tables.small_numbers import too_few, withheld


def as_text(report: Report) -> str:
    """The whole report: what was asked, each section, who was counted, where it comes from, the cautions."""
    parts = [report.title, labelled(report.in_words)]
    parts += [paragraph(one.in_words() + ".", indent="  ") for one in report.own_defaults]
    parts += [section_text(one, report.small_number) for one in report.sections]
    if report.source is not None:
        flow = "\n".join("  " + line for line in report.source.flow_text.splitlines())
        parts += [f"Who is counted\n{flow}", report.source.in_words()]
    parts.append("\n".join(paragraph(caution) for caution in report.all_cautions))
    return "\n\n".join(part for part in parts if part) + "\n"


def section_text(section: Section, small_number: int) -> str:
    """One section: title, definition, table, notes; and once what stands for a rate that is not shown."""
    rows = [plain(row) for row in section.rows]
    parts = [section.title, labelled(section.in_words)]
    if rows:
        parts.append(_table(section.columns, rows, small_number))
    notes = list(section.notes)
    if any(too_few(_number(row.get("n")), small_number) for row in rows):
        notes.append(f"{withheld(small_number)}: no rate is shown from fewer than {small_number}.")
    parts += [paragraph(note, indent="  ") for note in notes]
    return "\n".join(part for part in parts if part)


def _table(columns: Sequence[Column], rows: Sequence[Mapping[str, Any]], small_number: int) -> str:
    groups = list(dict.fromkeys(name for row in rows for name in row.get("group", {})))
    lines = [[*groups, *(column.heading for column in columns)]]
    before: list[str] = []
    for row in rows:
        group = [_text(row.get("group", {}).get(name)) for name in groups]
        few = too_few(_number(row.get("n")), small_number)
        lines.append([*([""] * len(group) if group == before else group), *(_cells(columns, row, few, small_number))])
        before = group
    # Words start left, numbers end right; a column of words after one of numbers would look torn.
    words = next((at for at, column in enumerate(columns) if column.show != "text"), len(columns))
    return aligned(lines, left=len(groups) + words)


def _cells(columns: Sequence[Column], row: Mapping[str, Any], few: bool, small_number: int) -> list[str]:
    cells, said = [], False
    for column in columns:
        if few and column.show in DERIVED and not column.free:
            cells.append(NOTHING if said else withheld(small_number))
            said = True
        else:
            cells.append(_shown(column, row))
    return cells


def _shown(column: Column, row: Mapping[str, Any]) -> str:
    values = [row.get(key) for key in column.key.split()]
    if column.show == "text":
        return " ".join(_text(value) for value in values)
    numbers = [_number_or_none(value) for value in values]
    if column.show == "count":
        return NOTHING if numbers[0] is None else f"{numbers[0]:,.0f}"
    if column.show == "number":
        return number(numbers[0], column.digits) if known(numbers[0]) else _text(row.get(column.instead))
    one = {"percent": percent, "points": points, "ratio": ratio}
    if column.show in one:
        return one[column.show](numbers[0])
    two = {"percent_range": percent_range, "points_range": points_range, "ratio_range": ratio_range}
    low, high = numbers
    return two[column.show](low, high)


def _text(value: Any) -> str:
    return NOTHING if value is None else str(value)


def _number(value: Any) -> float:
    return float(value) if isinstance(value, int | float) else 0.0


def _number_or_none(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) and not isinstance(value, bool) else None
