"""What a registry holds, by heading and with the hospital number for the patient, for comparison with a truth."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from registry.intake.registry_rows import RegistryRows
from registry.intake.values import parse
from registry.schema.fields import Number, Whole
from registry.schema.sheets import Sheet, as_typed, identity_sheets, sheets
from registry.schema.tables import natural_key
from registry.store.registry import Registry
from synthetic_cohort.logs.keys import PATIENT

_MODEL = "model_code."


@dataclass
class Held:
    """The rows of every table; ``key`` in a row names the headings of its natural key."""

    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    models: dict[str, dict[str, Any]] = field(default_factory=dict)

    def value(self, row: dict[str, Any], heading: str) -> Any:
        """A value of a row; of a use, ``model_code.length_cm`` is a dimension of its model."""
        if heading.startswith(_MODEL):
            return self.models.get(str(row.get("model_code")), {}).get(heading.removeprefix(_MODEL))
        return row.get(heading)


def held_values(registry: Registry) -> Held:
    """Read everything that a log can fill."""
    held = Held()
    with registry.reading() as connection:
        reading = RegistryRows(registry, connection)
        for layout in (*sheets(), *identity_sheets()):
            held.rows[layout.table] = [_row(layout, cells) for cells in reading.of(layout)]
    numbers: dict[str, str] = {}
    for row in held.rows["hospital_number"]:
        numbers.setdefault(row["study_number"], str(row["number"]))
    for table, rows in held.rows.items():
        for row in rows:
            if "study_number" in row:
                row[PATIENT] = numbers.get(row["study_number"])
            row["key"] = _key_of(table)
    held.models = {row["model_code"]: row for row in held.rows["equipment_model"]}
    return held


def _key_of(table: str) -> list[str]:
    if table == "hospital_number":
        return [PATIENT]
    named = [part.heading for part in natural_key(table) if part.heading != "site"]
    return [PATIENT if name == "study_number" else name for name in named]


def _row(layout: Sheet, cells: list[Any]) -> dict[str, Any]:
    return {column.heading: _plain(column.info, cell) for column, cell in zip(layout.columns, cells, strict=True)}


def _plain(info: Any, cell: Any) -> Any:
    """A cell's value in the field's own unit, where the registry keeps the wording in another one."""
    if isinstance(cell, str) and isinstance(info.kind, Number | Whole):
        stored = parse(info, cell).value
        return cell if stored is None else as_typed(info, stored)
    return cell
