"""A date known to the day says so by itself: its precision is kept only where it says more."""

from __future__ import annotations

from datetime import date
from typing import Any

from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.door import Door
from registry.store.record_hash import record_hash
from registry.store.registry import Registry

SITE = {"code": "LB", "name": "Larkspur Bay"}


def kept(registry: Registry) -> list[str | None]:
    patient = metadata.tables["patient"].c
    with registry.reading() as connection:
        return [
            value and str(value)
            for value in connection.execute(select(patient.died_on_precision).order_by(patient.id)).scalars()
        ]


def people(*precisions: str | None) -> list[dict[str, Any]]:
    common = {"site_id": 1, "died_on": date(2024, 1, 1)}
    return [{**common, "study_number": str(n), "died_on_precision": p} for n, p in enumerate(precisions)]


def in_batch(door: Door, rows: list[dict[str, Any]]) -> None:
    first = door.next_ids("patient", len(rows))
    numbered = [{"id": first + n, **row} for n, row in enumerate(rows)]
    door.load_batch(file_hash="h", file_name=None, tables={"patient": numbered})


def test_both_ways_in_leave_the_day_unsaid(registry: Registry) -> None:
    with registry.writing(by="test") as door:
        door.insert("site", SITE)
        for row in people("day", "month", None):
            door.insert("patient", row)
        in_batch(door, [{**row, "study_number": f"b{n}"} for n, row in enumerate(people("day", "year", None))])
    assert kept(registry) == [None, "month", None, None, "year", None]


def test_saying_the_day_changes_nothing(registry: Registry) -> None:
    with registry.writing(by="test") as door:
        door.insert("site", SITE)
        patient = door.insert("patient", people("month")[0])
        assert door.update("patient", patient, {"died_on_precision": "day"}, revision=1) == 2
    before = record_hash(registry)
    with registry.writing(by="test") as door:
        assert door.update("patient", patient, {"died_on_precision": "day"}, revision=2) == 2
        assert door.update("patient", patient, {"died_on_precision": None}, revision=2) == 2
    assert (kept(registry), record_hash(registry)) == ([None], before)
