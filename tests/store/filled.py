"""Valid rows for every table, made from the declarations alone."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from registry.schema.fields import (
    Code,
    Day,
    FieldInfo,
    Keeping,
    Moment,
    Number,
    Reference,
    Secret,
    Text,
    Whole,
)
from registry.schema.lists_outcome import LocalKind, LocalTable
from registry.schema.tables import metadata, ordered_tables
from registry.store.door import OWN_TABLES, Door
from registry.store.values import writable

ROWS = 2

# What the kind of a field alone does not say.
SPECIAL: dict[tuple[str, str], Any] = {
    ("patient_identity", "birth_date"): lambda n: f"1950-03-0{n}",
    ("question", "about_table"): lambda n: "patient",
    ("question", "about_row"): lambda n: n,
    ("operation", "signed_off_at"): lambda n: None,
    ("operation", "signed_off_by"): lambda n: None,
    # Two fields of each table's own, in turn: a value must belong to its field's table and be of its kind.
    ("local_field", "belongs_to"): lambda n: LocalTable.codes()[(n - 1) // ROWS % len(LocalTable)],
    ("local_field", "kind"): lambda n: LocalKind.TEXT.value,
    ("local_operation_value", "local_field_id"): lambda n: ROWS + min(n, ROWS),
    ("local_side_value", "local_field_id"): lambda n: 2 * ROWS + min(n, ROWS),
}


def values_of(table: str, number: int, rows: dict[str, list[int]]) -> dict[str, Any]:
    """Values for every field of the table's row ``number`` (from 1); links lead to the rows of the same number."""
    return {
        name: SPECIAL[table, name](number) if (table, name) in SPECIAL else value_of(info, number, rows)
        for name, info in writable(metadata.tables[table]).items()
        if name not in ("missing_reasons", "as_typed")
    }


def value_of(info: FieldInfo, number: int, rows: dict[str, list[int]]) -> Any:
    """A valid value of one field."""
    match info.kind:
        case Code(list=codes):
            known = codes.codes()
            return precision(number) if info.companion_of else known[(number - 1) % len(known)]
        case Whole(low=low) | Number(low=low):
            exact = 0.0 if isinstance(info.kind, Whole) else 0.125 * number
            return (low or 0) + number + exact if isinstance(info.kind, Number) else (low or 0) + number
        case Day():
            return date(2024, 5, number)
        case Moment():
            return datetime(2024, 5, number, 10, 30, 0, 250000, tzinfo=UTC)
        case Reference(table=table):
            if info.table == "patient_merge" and info.name == "merged_patient_id":
                return rows[table][number % len(rows[table])]
            return rows[table][(number - 1) % len(rows[table])]
        case Text(longest=longest):
            return f"{number} {info.name}"[:longest]
        case Secret():
            return f"Secret {number} of {info.name}"[:60]
        case Keeping():
            return f"kept {number}"
        case _:
            return f"Note {number} on {info.name}: d'accord, naïve\nline two; x=NULL"


def precision(number: int) -> str | None:
    """How exactly the date of row ``number`` is known: the first is a first of May, the others are days."""
    return "month" if number == 1 else None


def fill(door: Door, count: int = ROWS) -> dict[str, list[int]]:
    """Insert ``count`` rows (at most 9) into every table but the history; the door makes the patients' keys itself.

    There are local fields for each table that may have some. Returns the keys of the rows by table.
    """
    rows: dict[str, list[int]] = {}
    for table in ordered_tables():
        if table.name not in OWN_TABLES:
            rows[table.name] = [
                door.insert(table.name, values_of(table.name, number, rows))
                for number in range(1, (3 * ROWS if table.name == "local_field" else count) + 1)
            ]
    return rows
