"""Complexity scores worked by hand, through the intake workbook and the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import sqlite_copy
from tests.golden.outcomes.asked import Unit
from tests.golden.outcomes.score_cases import CASES, ScoreCase, write
from tests.golden.outcomes.story_book import Book

COMMAND = ("scores",)


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Unit:
    folder = tmp_path_factory.mktemp("scores")
    book = Book()
    write(book)
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book.load(location, folder)
    return Unit(location, tuple(book.people.items()))


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_score(unit: Unit, case: ScoreCase) -> None:
    (line,) = [one for one in unit.lines(case.name, *COMMAND) if one["score"] == case.score]
    assert line["state"] == case.state, line
    assert line["value"] == ("" if case.value is None else str(case.value)), line
    assert line["missing"] == "; ".join(case.missing), line


def test_a_score_is_of_the_technique_it_was_made_for(unit: Unit) -> None:
    flexible, percutaneous = "rirs least", "guys pelvis"
    assert {one["score"] for one in unit.lines(flexible, *COMMAND)}.isdisjoint({"guys", "stone", "s_resc"})
    assert {one["score"] for one in unit.lines(percutaneous, *COMMAND)}.isdisjoint({"rirs", "resorlu_unsal"})
    every = unit.lines(flexible, *COMMAND, "--any-technique")
    assert {(one["score"], one["meant_for_technique"]) for one in every} >= {("guys", "no"), ("rirs", "yes")}


def test_what_is_from_memory_says_so(unit: Unit) -> None:
    told = {line["score"]: line["from_memory"] for line in unit.answer(*COMMAND)[1]}
    assert {score for score, said in told.items() if said == "yes"} >= {
        "stone",
        "s_resc",
        "modified_s_resc",
        "resorlu_unsal",
        "rirs",
    }
