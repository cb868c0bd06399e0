"""A report as CSV: one table for all sections, every number unrounded, so that any reader of tables takes it."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from analysis.reports.sections.render_json import plain
from analysis.reports.sections.report import Report
from analysis.tables.spreadsheet_text import never_a_formula


def as_csv(report: Report) -> str:
    """All rows under one header; the first column names the section, and what a section does not have stays blank.

    A group is spread over a column for each of the columns that make it; a key of the row of that name gives way to
    `group_NAME`. as_of and snapshot end every row.
    """
    source = report.source
    where = {} if source is None else {"as_of": source.as_of.isoformat(), "snapshot": source.snapshot["content_hash"]}
    rows = [_flat({"section": section.name, **row}) for section in report.sections for row in section.rows]
    names = [*(dict.fromkeys(name for row in rows for name in row) or ["section"]), *where]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([_cell({**row, **where}.get(name)) for name in names] for row in rows)
    return out.getvalue()


def _flat(row: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in plain(row).items():
        if name == "group" and isinstance(value, dict):
            made.update({(f"group_{key}" if key in row else key): each for key, each in value.items()})
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
