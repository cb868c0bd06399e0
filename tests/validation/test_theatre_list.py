"""Theatre lists: taken in again and again, matched, settled by people; what they say about the registry."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest
from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata
from registry.store.erasing import erase_patient
from registry.store.registry import Registry
from registry.validation.theatre_list.lines import ListLine, TakenLines, take_lines
from registry.validation.theatre_list.matching import match_lines
from registry.validation.theatre_list.settling import settle
from registry.validation.theatre_list.standing import ListStanding, standing
from tests.command_line import gravelbook
from tests.validation.small_registry import TODAY, SmallRegistry, day

LIST = [
    ListLine(day(100), "H1", "FURS left"),
    ListLine(day(100), "H2", "PCNL right"),
    ListLine(day(100), "H3", "Stent change", cancelled=True),
    ListLine(day(101), "H1", "FURS right"),
]


@pytest.fixture
def small(registry: Registry) -> SmallRegistry:
    return SmallRegistry(registry)


def take(small: SmallRegistry, lines: list[ListLine]) -> TakenLines:
    return take_lines(small.registry, lines, by="clerk")


def held(small: SmallRegistry) -> list[tuple[int, int, str]]:
    """Day, number and state of every line, by key."""
    line = metadata.tables["theatre_list_line"]
    with small.registry.reading() as connection:
        rows = connection.execute(select(line).order_by(line.c.id)).all()
    return [((row.listed_on - day(0)).days, row.line_number, row.state.value) for row in rows]


def stand(small: SmallRegistry, **asked: object) -> ListStanding:
    match_lines(small.registry, by="clerk")
    (found,) = standing(small.registry, today=TODAY, **asked)  # type: ignore[arg-type]
    return found


def test_the_same_list_loaded_again_adds_nothing(small: SmallRegistry) -> None:
    first = take(small, LIST)
    assert first == TakenLines(added=(1, 2, 3, 4))
    assert held(small) == [(100, 1, "open"), (100, 2, "open"), (100, 3, "cancelled"), (101, 1, "open")]
    assert take(small, LIST) == TakenLines(unchanged=4)
    assert take(small, [replace(line, hospital_number=f" {line.hospital_number} ".lower()) for line in LIST]) == (
        TakenLines(unchanged=4)
    )


def test_a_later_version_updates_its_days_and_keeps_their_numbers(small: SmallRegistry) -> None:
    take(small, LIST)
    later = [
        ListLine(day(100), "H9", "FURS left"),
        replace(LIST[1], wording="PCNL left", cancelled=True),
        replace(LIST[2], cancelled=False),
    ]
    assert take(small, later) == TakenLines(added=(5,), updated=(2, 3), gone=(1,))
    assert held(small) == [
        (100, 1, "open"),  # no longer listed: a person says what became of it
        (100, 2, "cancelled"),
        (100, 3, "open"),
        (101, 1, "open"),  # a day that this version does not have is left alone
        (100, 4, "open"),
    ]


def test_two_lines_of_one_patient_and_lines_without_a_number(small: SmallRegistry) -> None:
    lines = [ListLine(day(100), "H1"), ListLine(day(100), "H1"), ListLine(day(100), None, "Emergency,  bed 4")]
    assert take(small, lines).added == (1, 2, 3)
    assert take(small, [*lines[:2], ListLine(day(100), None, "emergency, bed 4")]).updated == (3,)
    patient = small.patient("H1")
    for number in (1, 2):
        small.operation(patient, 100, day_number=number)
    assert stand(small).counts == {"open": 1, "matched": 2, "cancelled": 0, "not_stone": 0}


def test_lines_find_their_operation_at_every_run(small: SmallRegistry) -> None:
    take(small, LIST)
    found = stand(small)
    assert found.counts == {"open": 3, "matched": 0, "cancelled": 1, "not_stone": 0}
    assert [(line.id, line.patient_known) for line in found.left] == [(1, False), (2, False), (4, False)]
    patient = small.patient("h-1")  # a case and a hyphen make no other number
    operation = small.operation(patient, 100)
    assert [line.id for line in stand(small).left] == [2, 4]
    assert match_lines(small.registry, by="clerk") == 0  # nothing to write the second time
    small.change("operation", operation, operated_on=day(101))  # its day was wrong
    assert [line.id for line in stand(small).left] == [1, 2]


def test_an_operation_answers_one_line_within_the_units_days(small: SmallRegistry) -> None:
    take(small, LIST)
    small.operation(small.patient("H1"), 102)
    assert stand(small).counts["matched"] == 0
    small.set("theatre_list_days", "3")
    found = stand(small)
    assert found.counts["matched"] == 1
    assert [line.id for line in found.left] == [1, 2]  # line 4, of day 101, is the nearer one


def test_another_sites_number_is_another_patient(small: SmallRegistry) -> None:
    other = small.add("site", code="XX", name="Another unit")
    patient = small.add("patient", site_id=other, study_number="X1")
    small.add("hospital_number", site_id=other, patient_id=patient, number="H1")
    small.operation(patient, 100)
    with pytest.raises(GravelbookError, match="names no site; the registry has: LB, XX"):
        take(small, LIST)
    take(small, [replace(LIST[0], site="LB"), replace(LIST[0], site="XX")])
    match_lines(small.registry, by="clerk")
    assert held(small) == [(100, 1, "open"), (100, 1, "matched")]


def test_what_a_person_settled_is_kept(small: SmallRegistry) -> None:
    take(small, LIST)
    settle(small.registry, 2, ListLineState.NOT_STONE, by="JM")
    take(small, [LIST[0], replace(LIST[1], cancelled=True), LIST[2]])
    assert held(small)[1] == (100, 2, "not_stone")
    settle(small.registry, 1, ListLineState.CANCELLED, by="JM")
    take(small, LIST)  # the list still has it, but a person knows better
    assert held(small)[0] == (100, 1, "cancelled")
    small.operation(small.patient("H1"), 100)
    assert stand(small).contradicted == 1  # called off, and yet operated on
    settle(small.registry, 1, ListLineState.OPEN, by="JM")
    assert stand(small).counts["matched"] == 1
    with pytest.raises(GravelbookError, match="line 1 is matched by an operation"):
        settle(small.registry, 1, ListLineState.CANCELLED, by="JM")
    with pytest.raises(GravelbookError, match="no theatre list line 77"):
        settle(small.registry, 77, ListLineState.CANCELLED, by="JM")
    assert take(small, [replace(LIST[0], cancelled=True), *LIST[1:3]]).contradicted == (1,)


def test_the_number_and_the_wording_are_encrypted(small: SmallRegistry) -> None:
    small.patient("H1")
    take(small, LIST)
    with small.registry.reading() as connection:
        rows = connection.execute(select(metadata.tables["theatre_list_line"])).all()
        assert all(value.startswith("enc1:") for row in rows for value in (row.hospital_number, row.wording))


def listed_and_held(small: SmallRegistry) -> None:
    """Ten cases listed, of which five are held here, and ten more held that no list has."""
    take(small, [ListLine(day(100), f"H{n}") for n in range(10)])
    for n in range(15):
        small.operation(small.patient(f"H{n + 5}"), 100)


def test_a_match_outlives_the_erasure_of_its_patient(small: SmallRegistry) -> None:
    patient = small.patient("H1")
    small.operation(patient, 100)
    take(small, LIST[:2])
    assert stand(small).counts["matched"] == 1
    with small.registry.writing(by="tester", reason="asked to be forgotten") as door:
        erase_patient(door, patient, "asked to be forgotten")
    found = stand(small)
    assert found.counts["matched"] == 1 and [line.id for line in found.left] == [2]


def test_how_many_there_were_is_told_only_where_the_lists_are_apart(small: SmallRegistry) -> None:
    listed_and_held(small)
    found = stand(small)
    assert found.total is None and found.registry_filled_from_list
    assert (found.present.present, found.present.of, found.present.share) == (5, 10, 0.5)
    small.set("registry_filled_from_theatre_list", "yes")
    assert stand(small).total is None
    small.change("setting", 1, value="no")
    total = stand(small).total
    assert total is not None and (total.first, total.second, total.both) == (10, 15, 5)
    small.change("setting", 1, value="perhaps")
    with pytest.raises(GravelbookError, match="is 'perhaps', and it has to be yes or no"):
        stand(small)


def test_a_period_and_what_lies_ahead(small: SmallRegistry) -> None:
    take(small, [*LIST, ListLine(day(250), "H1")])
    found = stand(small)
    assert (found.first, found.last, found.ahead) == (day(100), TODAY, 1)
    found = stand(small, first=day(101), last=day(101))
    assert sum(found.counts.values()) == 1 and [line.id for line in found.left] == [4]


def test_the_command_shows_and_settles(small: SmallRegistry, location: str) -> None:
    listed_and_held(small)
    small.set("registry_filled_from_theatre_list", "no")
    small.registry.close()

    def asked(*arguments: str) -> str:
        done = gravelbook("quality", "theatre-list", "--registry", location, "--by-whom", "JM", *arguments)
        assert done.status == 0, done.err
        return done.out

    text = asked()
    assert "Of 10 listed cases the registry has 5: 50.0 % (95 % interval 23.7 % to 76.3 %, Wilson)." in text
    assert "about 28 in all" in text and "95 % interval 22 to 65" in text and "H1" not in text
    assert "    1  not a stone case" in asked("--settle", "1", "not_stone")
    left = list(csv.DictReader(io.StringIO(asked("--format", "csv"))))
    assert [row["line"] for row in left] == ["2", "3", "4", "5"]
    body = json.loads(asked("--format", "json", "--on", "2024-04-10"))["sites"][0]
    assert body["counts"]["open"] == 4 and body["total"]["both"] == 5
    wrong = gravelbook("quality", "theatre-list", "--registry", location, "--on", "2024-04-10", "--to", "2024-04-11")
    assert wrong.status == 2
