"""Small hand-made registries: rows by table, with what a test does not say filled in.

The same rows are frozen straight away (`snapshot_of`) or written into a real registry through its door (`written`).
Days count from 1 January 2024.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from pathlib import Path
from typing import Any

import pyarrow as pa

from analysis.cohort.freezing import freeze
from analysis.cohort.layout import arrow_schema, frozen_tables, layout_hash
from analysis.cohort.load import Cohort, load_cohort
from analysis.cohort.manifest import RegistryState
from analysis.cohort.snapshot import Snapshot
from registry.schema.tables import ordered_tables

DAY_0 = dt.date(2024, 1, 1)
# Fields that number the rows of one parent.
NUMBERS = {
    "equipment_use": ("treated_side_id", "use_number"),
    "stone": ("course_id", "stone_number"),
    "course": ("renal_unit_id", "course_number"),
    "operation_operator": ("operation_id", "person_number"),
    "lithotripsy_setting": ("treated_side_id", "setting_number"),
    "reading": ("examination_id", "reading_number"),
    "fragment": ("reading_id", "fragment_number"),
    "later_entry": ("patient_id", "entry_number"),
    "contact": ("patient_id", "contact_number"),
    "culture": ("patient_id", "culture_number"),
    "examination": ("patient_id", "examination_number"),
}


def day(number: int) -> dt.date:
    return DAY_0 + dt.timedelta(days=number)


class Rows:
    """Rows of a registry with one site (key 1, code A)."""

    def __init__(self) -> None:
        self.tables: dict[str, list[dict[str, Any]]] = defaultdict(list)
        self.add("site", code="A", name="Site A")

    def add(self, table: str, **values: Any) -> int:
        """A row; its number among its parent's rows is the next one unless said."""
        if table in NUMBERS:
            parent, number = NUMBERS[table]
            siblings = [row for row in self.tables[table] if row[parent] == values[parent]]
            values.setdefault(number, len(siblings) + 1)
        values["id"] = len(self.tables[table]) + 1
        self.tables[table].append(values)
        return int(values["id"])

    def patient(self, **values: Any) -> int:
        number = len(self.tables["patient"]) + 1
        return self.add("patient", **{"site_id": 1, "study_number": f"S{number:04d}", **values})

    def unit(self, patient: int | None = None, unit: str = "left", **values: Any) -> int:
        patient = self.patient() if patient is None else patient
        return self.add("renal_unit", patient_id=patient, unit=unit, unit_number=1, **values)

    def operation(self, patient: int, on: int = 0, **values: Any) -> int:
        common = {"operated_on": day(on), "day_number": 1, "purpose": "stone_removal"}
        return self.add("operation", patient_id=patient, **{**common, **values})

    def side(
        self,
        unit: int | None = None,
        on: int = 0,
        *,
        operation: int | None = None,
        techniques: tuple[str, ...] = ("flexible",),
        number: int = 1,
        **values: Any,
    ) -> int:
        """A treated side, with its operation unless one is given; of a new patient unless a unit is given."""
        unit = self.unit() if unit is None else unit
        patient = self.tables["renal_unit"][unit - 1]["patient_id"]
        operation = self.operation(patient, on, day_number=number) if operation is None else operation
        side = self.add(
            "treated_side", operation_id=operation, renal_unit_id=unit, **{"intent": "stone_removal", **values}
        )
        for technique in techniques:
            self.add("side_technique", treated_side_id=side, technique=technique)
        return side

    def operation_of(self, side: int) -> int:
        return int(self.tables["treated_side"][side - 1]["operation_id"])

    def operator(self, code: str, site: int = 1, **cases: int) -> int:
        operator = self.add("operator", site_id=site, code=code)
        for technique, number in cases.items():
            self.add("operator_prior_cases", operator_id=operator, technique=technique, cases=number)
        return operator

    def operated(self, side: int, operator: int, role: str = "first", **values: Any) -> int:
        operation = self.operation_of(side)
        return self.add("operation_operator", operation_id=operation, operator_id=operator, role=role, **values)

    def model(self, kind: str, **sizes: Any) -> int:
        code = f"M{len(self.tables['equipment_model']) + 1}"
        return self.add("equipment_model", site_id=1, **{"model_code": code, "kind": kind, **sizes})

    def scope(self, tenths: int | None, **values: Any) -> int:
        return self.model("scope", shaft_tenths_fr=tenths, **values)

    def sheath(self, inner: int | None, outer: int | None = None, **values: Any) -> int:
        return self.model("access_sheath", inner_tenths_fr=inner, outer_tenths_fr=outer, **values)

    def used(self, side: int, model: int, result: str | None = "passed", **values: Any) -> int:
        return self.add("equipment_use", treated_side_id=side, equipment_model_id=model, result=result, **values)

    def later(self, unit: int, on: int | dt.date, what: str = "retreatment", **values: Any) -> int:
        patient = self.tables["renal_unit"][unit - 1]["patient_id"]
        told_on = day(on) if isinstance(on, int) else on
        return self.add("later_entry", patient_id=patient, occurred_on=told_on, what=what, renal_unit_id=unit, **values)

    def arrow(self, table: str) -> pa.Table:
        return pa.Table.from_pylist(self.tables[table], schema=arrow_schema(table))

    def snapshot_of(self, folder: Path) -> Snapshot:
        """These rows, frozen without a database."""
        folder.mkdir(parents=True, exist_ok=True)
        state = RegistryState(
            schema_revision="none", history_length=0, history_head="0", last_change_at=None, layout=layout_hash()
        )
        return Snapshot(folder, freeze(state, self.arrow, folder))

    def cohort(self, folder: Path, **asked: Any) -> Cohort:
        return load_cohort(self.snapshot_of(folder), **asked)

    def row(self, folder: Path, side: int) -> dict[str, Any]:
        """The cohort frame's row of one side."""
        frame = self.cohort(folder).sides_frame
        return dict(frame[frame["side_id"] == side].iloc[0])

    def written(self, registry: Any) -> None:
        """Write these rows into a real registry, one by one, parents first."""
        assert set(self.tables) <= set(frozen_tables())
        with registry.writing(by="tester", reason="test") as door:
            for table in ordered_tables():
                for row in self.tables.get(table.name, []):
                    made = door.insert(table.name, {name: value for name, value in row.items() if name != "id"})
                    assert made == row["id"]
