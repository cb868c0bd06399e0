"""The counting itself: it sees a wrong value, a missing one, an invented row, a missed error and a false alarm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.registry import Registry, open_registry
from registry.validation.findings import Finding, Severity
from synthetic_cohort.logs.make_log import make_log
from synthetic_cohort.logs.mess import Mess
from synthetic_cohort.logs.planting import Planted
from synthetic_cohort.logs.truth_of_log import At, State, Truth
from tests.recovery.let_in import let_in
from tests.recovery.recovered import alike, found, recovered
from tests.recovery.rehearsal import Rehearsal, rehearse


@pytest.fixture
def loaded(sqlite_location: str, tmp_path: Path) -> Iterator[tuple[Registry, Rehearsal]]:
    with open_registry(sqlite_location) as registry:
        yield registry, rehearse(registry, tmp_path / "log", "semicolon", 10, 1, Mess.none())


def test_counting_sees_a_wrong_value(loaded: tuple[Registry, Rehearsal]) -> None:
    registry, made = loaded
    table = metadata.tables["stone"]
    with registry.reading() as connection:
        stone, revision, length = connection.execute(
            select(table.c.id, table.c.revision, table.c.length_mm).order_by(table.c.id).limit(1)
        ).one()
    with registry.writing(by="test", reason="a wrong value") as door:
        door.update("stone", stone, {"length_mm": length + 1}, revision=revision)
    back = recovered(registry, made.log.truth)
    assert [(of.true.table, of.true.heading, of.got) for of in back.wrong] == [("stone", "length_mm", length + 1)]
    assert back.recovered == made.recovered.recovered - 1


def test_counting_sees_a_missing_value_and_an_invented_row(loaded: tuple[Registry, Rehearsal]) -> None:
    """A truth with one patient fewer than the registry holds, and with one value that no file gave."""
    registry, made = loaded
    first = made.log.truth.values[0].key
    truth = Truth([of for of in made.log.truth.values if of.key["hospital_number"] != first["hospital_number"]], [])
    nowhere = replace(truth.values[0], table="operation", heading="frailty", value=3)
    nowhere.key = next(of.key for of in truth.values if of.table == "operation")
    truth.values.append(nowhere)
    back = recovered(registry, truth)
    assert back.missing == [nowhere]
    assert any(row.startswith("operation ") for row in back.invented)
    assert back.wrong == []


def test_counting_sees_a_lost_value_that_was_made_up(loaded: tuple[Registry, Rehearsal]) -> None:
    registry, made = loaded
    age = next(of for of in made.log.truth.values if of.heading == "age_years")
    lost = Truth([replace(age, state=State.LOST, value=age.value + 1)], [])
    assert [of.got for of in recovered(registry, lost).wrong] == [age.value]


def test_counting_of_findings() -> None:
    """An error is found by a finding at one of its cells, by no note, and by none beside it."""
    log = make_log("semicolon", 40, 2, mess=Mess.none(), errors=3)
    places = [of.places(log.pages) for of in log.planted]
    one, clean = places[0][0], log.truth.clean[0]

    def said(column: str, row: int, severity: Severity) -> Finding:
        return Finding(one.file, one.sheet, row, column, "", "", "rule", severity, "why")

    hit = found([said(f"A, {one.column}", one.row, Severity.QUESTION)], log.planted, places, log.truth)
    assert [of.kind.id for of in hit.missed] == [of.kind.id for of in log.planted[1:]]
    assert hit.share == pytest.approx(1 / 3)
    assert hit.alarms == []
    assert len(found([said(one.column, one.row, Severity.NOTE)], log.planted, places, log.truth).missed) == 3
    assert len(found([said("ZZ", one.row, Severity.ERROR)], log.planted, places, log.truth).missed) == 3
    alarm = found([said("A", clean.row, Severity.ERROR)], log.planted, places, log.truth)
    assert len(alarm.alarms) == 1
    assert alarm.alarms_per_thousand == pytest.approx(1000 / len(log.truth.clean))


def test_counting_sees_what_planted_errors_brought_in(loaded: tuple[Registry, Rehearsal]) -> None:
    """A registry that took three errors for good: one asked about, one not, one under a number without its zeros."""
    registry, made = loaded
    errors = make_log("semicolon", 40, 2, mess=Mess.none(), errors=3)
    lines = [line for page in made.log.pages for line in page.data]
    numbers = [line.entry[0].number for line in lines]
    first, other = (next(line for line in lines if line.entry[0].number == number) for number in sorted({*numbers})[:2])
    planted = [Planted(errors.planted[0].kind, [first]), Planted(errors.planted[1].kind, [other])]
    place = At("theatre-log.csv", "", 2, "A")
    places = [[place], [replace(place, row=3)]]
    finding = Finding(place.file, "", 2, "A", "", "", "rule", Severity.QUESTION, "why")
    assert let_in(registry, made.log.truth, planted, places, [finding]) == []
    for line, asked in ((first, True), (other, False)):
        number = line.entry[0].number
        wrong = [
            replace(of, value=(of.value + 1))
            if of.heading == "age_years" and of.key["hospital_number"] == number
            else of
            for of in made.log.truth.values
        ]
        came = let_in(registry, Truth(wrong, []), planted, places, [finding])
        assert {(of.what, of.asked, of.got + 1 == of.true.value) for of in came if of.true} == {
            ("operation.age_years", asked, True)
        }
        fewer = [of for of in made.log.truth.values if of.key["hospital_number"] != number]
        rows = let_in(registry, Truth(fewer, []), planted, places, [finding])
        assert "operation" in {of.what for of in rows if of.true is None and of.asked is asked}


def test_counting_compares_as_the_registry_writes() -> None:
    assert alike("length_mm", 12.0, 12)
    assert alike("height_cm", 175.26, 175.2600001)
    assert not alike("length_mm", 12.0, 12.1)
    assert not alike("length_mm", 12.0, "twelve")
    assert alike("wording", "y", "SF 2mm: y")
    assert not alike("location", "pelvis", "lower_calyx")
