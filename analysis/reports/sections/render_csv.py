"""A report as CSV: one table a section, every number unrounded, a blank line between tables."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from analysis.reports.sections.render_json import plain
from analysis.reports.sections.report import Report, Section
from analysis.tables.spreadsheet_text import never_a_formula


def as_csv(report: Report) -> str:
    """The sections one after the other, each with a header of its own; its first column names the section.

    A group is spread over a column for each of the columns that make it. as_of and snapshot end every row.
    """
    out = io.StringIO()
    source = report.source
    where = {} if source is None else {"as_of": source.as_of.isoformat(), "snapshot": source.snapshot["content_hash"]}
    for number, section in enumerate(report.sections):
        out.write("\n" if number else "")
        _write(csv.writer(out, lineterminator="\n"), section, where)
    return out.getvalue()


def _write(writer: Any, section: Section, where: dict[str, Any]) -> None:
    flat = [_flat({"section": section.name, **row, **where}) for row in section.rows]
    names = list(dict.fromkeys(name for row in flat for name in row)) or ["section"]
    writer.writerow(names)
    writer.writerows([_cell(row.get(name)) for name in names] for row in flat)


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in plain(row).items():
        if name == "group" and isinstance(value, dict):
            made.update(value)
        elif isinstance(value, dict | list):
            made[name] = json.dumps(value, ensure_ascii=False)
        else:
            made[name] = value
    return made


def _cell(value: Any) -> str:
    """Numbers in full, whole ones without a point; a text that a spreadsheet would run is kept a text."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() and abs(value) < 1e15 else repr(value)
    return never_a_formula(value) if isinstance(value, str) else str(value)
