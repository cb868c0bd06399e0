"""A report as JSON: every number unrounded, null where there is none."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Mapping
from typing import Any

from analysis.reports.sections.report import Report


def as_json(report: Report) -> str:
    """One JSON object: definition, and rows, each with the name of its section.

    definition holds `sections`, name to what each was computed under, with its notes.
    """
    source = {} if report.source is None else report.source.as_dict()
    whole = {
        "definition": {
            **report.definition,
            "sections": {
                one.name: {"title": one.title, **one.definition, "notes": list(one.notes)} for one in report.sections
            },
            "small_number": report.small_number,
            "own_defaults": [one.as_dict() for one in report.own_defaults],
            **source,
            "cautions": list(report.all_cautions),
        },
        "rows": [{"section": one.name, **row} for one in report.sections for row in one.rows],
    }
    return json.dumps(plain(whole), indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def plain(value: Any) -> Any:
    """Plain values alone, however deep: NaN and NA become null, dates text, numpy's numbers Python's."""
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each) for each in value]
    if isinstance(value, dt.datetime | dt.date):
        return value.isoformat()[:10]
    if hasattr(value, "item"):
        value = value.item()
    if value is None or isinstance(value, str | bool | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if str(value) == "<NA>":
        return None
    raise TypeError(f"{type(value).__name__} cannot be written as JSON: {value!r}")
