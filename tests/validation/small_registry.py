"""A small registry made through the door, a case at a time. Days count from 1 January 2024; today is day 200."""

from __future__ import annotations

import datetime as dt
from typing import Any

from registry.store.registry import Registry

DAY_0 = dt.date(2024, 1, 1)
TODAY = DAY_0 + dt.timedelta(days=200)


def day(number: int) -> dt.date:
    return DAY_0 + dt.timedelta(days=number)


class SmallRegistry:
    """Enters rows into a registry that has one site."""

    def __init__(self, registry: Registry) -> None:
        self.registry = registry
        self.patients = 0
        self.site = self.add("site", code="LB", name="Larkspur Bay Stone Unit")

    def add(self, table: str, **values: Any) -> int:
        with self.registry.writing(by="tester", reason="test") as door:
            return door.insert(table, values)

    def change(self, table: str, row: int, **values: Any) -> None:
        with self.registry.writing(by="tester", reason="test") as door:
            revision = door.read(door.table(table), row)["revision"]
            door.update(table, row, values, revision=revision)

    def withdraw(self, table: str, row: int) -> None:
        with self.registry.writing(by="tester", reason="test") as door:
            door.withdraw(table, row)

    def set(self, name: str, value: str) -> int:
        return self.add("setting", site_id=self.site, setting_name=name, since=DAY_0, value=value)

    def patient(self, number: str | None = None, **values: Any) -> int:
        """A patient with the next study number, and a hospital number when one is given."""
        self.patients += 1
        made = self.add("patient", site_id=self.site, study_number=f"S{self.patients:03d}", **values)
        if number is not None:
            self.add("hospital_number", site_id=self.site, patient_id=made, number=number)
        return made

    def unit(self, patient: int | None = None, unit: str = "left", **values: Any) -> int:
        patient = self.patient() if patient is None else patient
        return self.add("renal_unit", patient_id=patient, unit=unit, **values)

    def operation(self, patient: int, on: int, **values: Any) -> int:
        return self.add("operation", patient_id=patient, operated_on=day(on), **{"purpose": "stone_removal", **values})

    def side(self, on: int, patient: int | None = None, unit: int | None = None, **values: Any) -> tuple[int, int]:
        """A side treated for stones on a day, and its renal unit."""
        patient = self.patient() if patient is None else patient
        unit = self.unit(patient) if unit is None else unit
        operation = self.operation(patient, on)
        common = {"intent": "stone_removal", "exit_strategy": "none"}
        side = self.add("treated_side", operation_id=operation, renal_unit_id=unit, **{**common, **values})
        return side, unit

    def patient_of(self, unit: int) -> int:
        with self.registry.writing(by="tester") as door:
            return int(door.read(door.table("renal_unit"), unit)["patient_id"])

    def operation_of(self, side: int) -> int:
        with self.registry.writing(by="tester") as door:
            return int(door.read(door.table("treated_side"), side)["operation_id"])

    def scan(self, unit: int, on: int | dt.date, *, read: bool = True, **values: Any) -> int:
        examined_on = day(on) if isinstance(on, int) else on
        patient = self.patient_of(unit)
        made = self.add("examination", patient_id=patient, examined_on=examined_on, **{"modality": "ct", **values})
        if read and "not_done" not in values:
            self.add("reading", examination_id=made, renal_unit_id=unit, finding="none_seen")
        return made

    def contact(self, patient: int, on: int, **values: Any) -> int:
        return self.add("contact", patient_id=patient, contacted_on=day(on), method="telephone", **values)
