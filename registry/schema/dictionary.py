"""The data dictionary, written from the declarations in three forms: Markdown, CSV and Table Schema JSON."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from sqlalchemy import Table

from registry.schema.base import model_of
from registry.schema.fields import Code, Day, FieldInfo, Moment, Number, Reference, RowKey, Whole, info_of
from registry.schema.sentences import limits_words, plausible_words, shown_unit, type_words
from registry.schema.tables import natural_key, ordered_tables

HEADINGS = [
    "table",
    "field",
    "label",
    "type",
    "typed_unit",
    "stored_unit",
    "limits",
    "plausible",
    "codes",
    "needed_by",
    "arises",
    "identifying",
    "in_snapshots",
    "default",
    "source",
    "help",
]


def entries() -> list[dict[str, str]]:
    """One entry a field, in the order of the tables, with the keys of ``HEADINGS``; all values are text."""
    return [_entry(info_of(column)) for table in ordered_tables() for column in table.columns]


def _entry(info: FieldInfo) -> dict[str, str]:
    codes = info.kind.list if isinstance(info.kind, Code) else None
    return {
        "table": info.table,
        "field": info.name,
        "label": info.label,
        "type": type_words(info) if codes is None else "one of a list",
        "typed_unit": shown_unit(info.typed_unit),
        "stored_unit": shown_unit(info.unit),
        "limits": limits_words(info),
        "plausible": plausible_words(info),
        "codes": "" if codes is None else "; ".join(f"{code.value} = {code.label}" for code in codes),
        "needed_by": str(info.needed or ""),
        "arises": str(info.arises or ""),
        "identifying": "yes" if info.identifying else "no",
        "in_snapshots": "yes" if info.analysed else "no",
        "default": "" if info.default is None else str(info.default),
        "source": codes.source() if codes is not None and info.source == "common practice" else info.source,
        "help": info.help,
    }


def as_csv() -> str:
    """The dictionary as CSV, one row a field."""
    text = io.StringIO()
    writer = csv.DictWriter(text, HEADINGS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(entries())
    return text.getvalue()


def as_markdown() -> str:
    """The dictionary as Markdown, one section a table."""
    parts = ["# Data dictionary", "", "Written from the declarations; every table has these fields in this order.", ""]
    for table in ordered_tables():
        model = model_of(table)
        key = ", ".join(part.heading for part in natural_key(table.name))
        parts += [f"## {model.label} (`{table.name}`)", "", model.about, ""]
        parts += [f"Known by: {key}", ""] if key else []
        parts += [
            "| field | label | type and codes | unit | limits | needed by | arises | source |",
            "|" + " --- |" * 8,
        ]
        for column in table.columns:
            parts.append(_markdown_row(info_of(column)))
        parts.append("")
    return "\n".join(parts)


def _markdown_row(info: FieldInfo) -> str:
    entry = _entry(info)
    what = entry["codes"].replace("; ", "<br>") or entry["type"]
    limits = "; ".join(text for text in (entry["limits"], entry["plausible"]) if text)
    label = info.label + (f": {info.help}" if info.help else "")
    unit = entry["typed_unit"]
    if entry["stored_unit"] != unit:
        unit = f"{unit} (stored in {entry['stored_unit']})"
    cells = [f"`{info.name}`", label, what, unit, limits, entry["needed_by"], entry["arises"], entry["source"]]
    return "| " + " | ".join(cell.replace("|", "\\|").replace("\n", " ") for cell in cells) + " |"


def as_table_schema() -> str:
    """The dictionary as JSON: for each table a descriptor of the open Table Schema specification (v1)."""
    tables = [{"name": t.name, "title": model_of(t).label, "schema": table_schema(t)} for t in ordered_tables()]
    return json.dumps(
        {"profile": "data-package", "name": "gravelbook", "resources": tables}, indent=1, ensure_ascii=False
    )


def table_schema(table: Table) -> dict[str, Any]:
    """One table as a Table Schema descriptor: fields with types and constraints, keys and foreign keys."""
    foreign = [
        {"fields": [c.name], "reference": {"resource": info.kind.table, "fields": ["id"]}}
        for c in table.columns
        if isinstance((info := info_of(c)).kind, Reference)
    ]
    return {
        "fields": [_schema_field(info_of(c)) for c in table.columns],
        "primaryKey": ["id"],
        "foreignKeys": foreign,
        "missingValues": [""],
    }


def _schema_field(info: FieldInfo) -> dict[str, Any]:
    kinds: list[tuple[Any, str]] = [
        ((Whole, Reference, RowKey), "integer"),
        ((Number,), "number"),
        ((Day,), "date"),
        ((Moment,), "datetime"),
    ]
    kind = next((name for types, name in kinds if isinstance(info.kind, types)), "string")
    low, high = info.limits
    constraints: dict[str, Any] = {"required": True} if info.required else {}
    if isinstance(info.kind, Code):
        constraints["enum"] = info.kind.list.codes()
    if low is not None:
        constraints["minimum"] = str(low) if isinstance(info.kind, Day) else low
    if high is not None:
        constraints["maximum"] = str(high) if isinstance(info.kind, Day) else high
    described = {"name": info.name, "title": info.label, "type": kind, "constraints": constraints}
    if info.unit:
        described["unit"] = info.unit
    if info.help:
        described["description"] = info.help
    return described
