"""Examinations, asked whether they are a scan of a renal unit."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import Connection, select

from registry.schema.lists_common import MissingReason
from registry.schema.tables import metadata
from registry.validation.due.day_span import DaySpan, day_span


@dataclass(frozen=True, slots=True)
class Scan:
    """An examination; ``units`` are the renal units read on it, none as long as it is not read."""

    id: int
    patient_id: int
    on: DaySpan
    modality: str
    not_done: str | None
    units: frozenset[int]

    def is_of(self, renal_unit: int) -> bool:
        """It was done, and read of this renal unit, or not read yet, so that it may be of it."""
        return self.not_done is None and (not self.units or renal_unit in self.units)

    @property
    def pending(self) -> bool:
        """It is booked or asked for, and not done yet."""
        return self.not_done == MissingReason.PENDING


@dataclass(frozen=True)
class Scans:
    """All examinations by patient."""

    by_patient: dict[int, list[Scan]]

    def of(self, patient: int) -> list[Scan]:
        """A patient's examinations, by date."""
        return self.by_patient.get(patient, [])


def scans_in(connection: Connection) -> Scans:
    """Every examination."""
    examination, reading = metadata.tables["examination"].c, metadata.tables["reading"].c
    units: dict[int, set[int]] = defaultdict(set)
    for examination_id, unit in connection.execute(select(reading.examination_id, reading.renal_unit_id)):
        units[int(examination_id)].add(int(unit))
    query = select(
        examination.id,
        examination.patient_id,
        examination.examined_on,
        examination.examined_on_precision,
        examination.modality,
        examination.not_done,
    ).order_by(examination.examined_on, examination.id)
    found: dict[int, list[Scan]] = defaultdict(list)
    for row in connection.execute(query):
        found[int(row.patient_id)].append(
            Scan(
                id=int(row.id),
                patient_id=int(row.patient_id),
                on=day_span(row.examined_on, row.examined_on_precision),
                modality=row.modality.label,
                not_done=row.not_done,
                units=frozenset(units.get(int(row.id), ())),
            )
        )
    return Scans(dict(found))
