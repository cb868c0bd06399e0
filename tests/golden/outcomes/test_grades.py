"""Grades of complications worked by hand, through the intake workbook and the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import sqlite_copy
from tests.golden.outcomes.asked import Unit
from tests.golden.outcomes.grade_cases import CASES, NONE, STORIES, GradeCase, write
from tests.golden.outcomes.story_book import Book

COMMAND = ("complications", "--days", "30,90")


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Unit:
    folder = tmp_path_factory.mktemp("grades")
    book = Book()
    write(book)
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book.load(location, folder)
    return Unit(location, tuple(book.people.items()))


def graded(unit: Unit, name: str, *options: str) -> dict[str, str]:
    (line,) = [one for one in unit.lines(name, *COMMAND, *options) if one["line"] == "complication"]
    return line


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.ref)
def test_grade(unit: Unit, case: GradeCase) -> None:
    options = [word for name, value in case.options for word in (f"--{name}", value)]
    line = graded(unit, f"grade {case.ref}", *options)
    spans = {" to " in case.grade: "not computable", case.grade == NONE: NONE}
    assert line["state"] == spans.get(True, "graded"), (case.why, line)
    told = line["proposal"] if " to " not in case.grade else span(unit, case, options)
    assert told == ("" if case.grade == NONE else case.grade), (case.why, line)
    assert bool(line["rule"]), case.why
    for column, words in case.said:
        assert words in line[column] if words else line[column] == "", (case.why, column, line)


def span(unit: Unit, case: GradeCase, options: list[str]) -> str:
    """What the worst grade of the operation can be."""
    lines = unit.lines(f"grade {case.ref}", *COMMAND, *options)
    (worst,) = [one["worst_30"] for one in lines if one["line"] == "operation"]
    return worst


def test_a_planned_stage_is_no_complication(unit: Unit) -> None:
    line = graded(unit, "planned-stage")
    assert (line["state"], line["not_counted"]) == (NONE, "a planned step of the course is no complication")


def test_nor_a_therapy_of_one(unit: Unit) -> None:
    line = graded(unit, "planned-stage-obstructed")
    assert line["proposal"] == "I"
    assert "planned stage" in line["flags"]


def test_an_unplanned_one_is(unit: Unit) -> None:
    assert graded(unit, "unplanned-again")["proposal"] == "IIIb"


def test_a_stent_taken_out_as_planned_is_none(unit: Unit) -> None:
    assert graded(unit, "stent-out")["state"] == NONE


def test_anaesthesia_stands_in_the_operation_that_treated(unit: Unit) -> None:
    line = graded(unit, "anaesthesia-of-the-operation")
    assert (line["state"], line["proposal"]) == ("graded", "IIIb")


def test_two_records_of_its_anaesthesia_that_differ_are_named(unit: Unit) -> None:
    line = graded(unit, "anaesthesia-contradicted")
    assert (line["state"], line["proposal"]) == ("not computable", "")
    assert "local anaesthesia" in line["contradictions"] and "general" in line["contradictions"]


def test_a_person_overrules_and_both_are_kept(unit: Unit) -> None:
    line = graded(unit, "overruled")
    assert [line[name] for name in ("proposal", "first", "used", "used_by")] == ["IIIb", "IIIa", "IIIa", "first"]
    line = graded(unit, "overruled", "--grades", "rule")
    assert [line[name] for name in ("proposal", "first", "used", "used_by")] == ["IIIb", "IIIa", "IIIb", "rule"]


def test_the_agreed_grade_counts(unit: Unit) -> None:
    line = graded(unit, "agreed")
    assert [line[name] for name in ("first", "second", "agreed", "used")] == ["IIIb", "I", "II", "II"]


def test_every_story_is_told() -> None:
    assert len(CASES) + len(STORIES) >= 50
