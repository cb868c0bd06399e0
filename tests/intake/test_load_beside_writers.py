"""Loading while others write: neither waits for the whole of the other, and nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from registry.intake.load import load_file
from registry.schema.tables import metadata
from registry.store.door import Door
from registry.store.registry import Registry
from registry.store.verify import verify
from tests.intake.books import CASE, IDENTITY, Rows, write_book

CONTACTS: Rows = {
    **CASE,
    **IDENTITY,
    "contact": [{"study_number": "0042", "contacted_on": date(2024, 8, day)} for day in range(1, 6)],
}


class Busy(Registry):
    """A registry to which somebody else writes whenever a load was prepared."""

    contacts = 0
    patient = 0
    always = False

    def other_writes(self, days: int = 1) -> None:
        """Somebody enters contacts with another patient."""
        with self.writing(by="other") as door:
            for _ in range(days):
                self.contacts += 1
                on = date(2000, 1, 1) + timedelta(days=self.contacts)
                door.insert("contact", {"patient_id": self.patient, "contacted_on": on})

    @contextmanager
    def preparing(self, **given: Any) -> Iterator[Door]:
        with super().preparing(**given) as door:
            yield door
        if self.always or not self.contacts:
            self.other_writes()


@pytest.fixture
def busy(registry: Registry) -> Iterator[Busy]:
    """Such a registry, with a patient of the other's."""
    opened = Busy(registry.location, registry.engine, registry.keys)
    with opened.writing(by="other") as door:
        site = door.insert("site", {"code": "HM", "name": "Heron Mill"})
        opened.patient = door.insert("patient", {"site_id": site, "study_number": "7"})
    yield opened


def two_sites(rows: Rows) -> Rows:
    return {table: [{"site": "LB", **row} for row in those] for table, those in rows.items() if table in _WITH_SITE}


_WITH_SITE = ("site", "patient", "contact")


@pytest.mark.parametrize("always", [False, True])
def test_what_others_write_of_other_patients_does_not_stop_a_load(busy: Busy, tmp_path: Path, always: bool) -> None:
    busy.always = always
    seen: list[str] = []

    def told(stage: str, done: int, total: int) -> None:
        seen.append(stage)
        if stage == "Checking":
            busy.other_writes()

    loaded = load_file(busy, write_book(tmp_path / "b.xlsx", two_sites(CONTACTS)), by="test", progress=told)
    assert loaded.new["contact"] == 5
    assert seen.count("Reading") == 3  # the file was read once: three sheets
    contact, patient = metadata.tables["contact"].c, metadata.tables["patient"].c
    with busy.reading() as connection:
        query = select(patient.study_number, contact.id).where(patient.id == contact.patient_id).order_by(contact.id)
        rows = [tuple(row) for row in connection.execute(query)]
    assert [study for study, _ in rows if study == "0042"] == ["0042"] * 5
    assert len([study for study, _ in rows if study == "7"]) == busy.contacts >= 3
    found = verify(busy)
    assert found.holds, found.summary


def test_a_change_of_the_same_patient_has_the_file_checked_again(busy: Busy, tmp_path: Path) -> None:
    load_file(busy, write_book(tmp_path / "a.xlsx", two_sites({**CASE})), by="test")
    with busy.reading() as connection:
        patient = metadata.tables["patient"].c
        own = connection.execute(select(patient.id).where(patient.study_number == "0042")).scalar_one()
    entered: list[date] = []

    def told(stage: str, done: int, total: int) -> None:
        if stage == "Checking" and not entered:
            entered.append(date(2024, 8, 1))
            with busy.writing(by="other") as door:
                door.insert("contact", {"patient_id": own, "contacted_on": entered[0]})

    loaded = load_file(busy, write_book(tmp_path / "b.xlsx", two_sites(CONTACTS)), by="test", progress=told)
    assert loaded.there["contact"] == 1  # the other's, of the first of August
    assert loaded.new["contact"] == 4


def test_a_new_patient_has_the_file_checked_again(busy: Busy, tmp_path: Path) -> None:
    """Whoever is new may have the number that the file gives to its own."""
    path = write_book(tmp_path / "b.xlsx", two_sites(CONTACTS))
    entered: list[int] = []

    def told(stage: str, done: int, total: int) -> None:
        if stage == "Checking" and not entered:
            with busy.writing(by="other") as door:
                site = door.insert("site", {"code": "LB", "name": "Larkspur Bay", "time_zone": "Europe/Lisbon"})
                entered.append(door.insert("patient", {"site_id": site, "study_number": "0042", "sex": "male"}))

    loaded = load_file(busy, path, by="test", progress=told)
    assert loaded.errors or loaded.there["patient"] == 1
    found = verify(busy)
    assert found.holds, found.summary
