"""The fingerprints of a batch are worked out before it is written, and are those of what then stands there."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from typing import Any

import pytest

from registry.store.batch_loading import load_batch
from registry.store.batch_preparing import prepare_batch
from registry.store.registry import Registry
from registry.store.verify import verify

ODD: list[dict[str, Any]] = [
    {"weight_kg": 71},
    {"weight_kg": 70.1 + 0.2, "height_cm": 1e2 + 1e-13},
    {"started_at": datetime(2024, 5, 1, 8, 30, 0, 7, tzinfo=UTC)},
    {"started_at": datetime(2024, 5, 1, 1, 0, tzinfo=timezone(timedelta(hours=-7)))},
    {"started_at": "2024-05-01T10:00:00+02:00", "note": "it's 'quoted'\n=\u00b5mol NULL"},
    {"missing_reasons": "height_cm=not_done;", "as_typed": "weight_kg=11 st, it's 'about';"},
    {"operated_on": "1901-01-02", "asa_class": 2},
]


@pytest.mark.parametrize("early", [False, True])
def test_they_are_those_that_the_database_gives(registry: Registry, early: bool) -> None:
    with registry.writing(by="test") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur 'Bay'"})
        patient = door.insert("patient", {"site_id": site, "study_number": "1"})
        first = door.next_ids("operation", len(ODD))
        rows = [
            {
                "id": first + n,
                "patient_id": patient,
                "operated_on": date(2024, 5, 1),
                "purpose": "stone_removal",
                "day_number": n + 1,
                **odd,
            }
            for n, odd in enumerate(ODD)
        ]
        tables = {"operation": rows}
        prepared = prepare_batch(door, tables, early=early)
        expected = {key: mark for part in prepared.tables.get("operation", []) for key, mark in part.marks}
        assert bool(expected) is early
        load_batch(door, file_hash="0" * 64, file_name=None, tables=tables, prepared=prepared)
        written = dict(door.fingerprints.of_table("operation"))
        assert len(written) == len(ODD)
        assert expected in (written, {})
    found = verify(registry)
    assert found.holds, found.summary


def test_a_zero_has_no_sign(registry: Registry) -> None:
    with registry.writing(by="test") as door:
        site = door.insert("site", {"code": "LB", "name": "Larkspur Bay"})
        patient = door.insert("patient", {"site_id": site, "study_number": "1"})
        first = door.next_ids("observation_set")
        row = {"id": first, "patient_id": patient, "observed_on": date(2024, 5, 1)}
        tables = {"observation_set": [{**row, "c_reactive_protein_mg_l": -0.0}]}
        door.load_batch(file_hash="0" * 64, file_name=None, tables=tables)
    found = verify(registry)
    assert found.holds, found.summary
