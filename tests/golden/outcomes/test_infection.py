"""Infection, organ failure and kidney function worked by hand, through the intake workbook and the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import sqlite_copy
from tests.golden.outcomes.asked import Unit
from tests.golden.outcomes.infection_cases import KIDNEYS, STORIES, Kidney, Story, write, write_kidneys
from tests.golden.outcomes.story_book import Book

COMMAND = ("complications", "--show", "infection,kidney", "--by", "year")


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Unit:
    folder = tmp_path_factory.mktemp("infection")
    book = Book()
    write(book)
    write_kidneys(book)
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book.load(location, folder)
    return Unit(location, tuple(book.people.items()))


@pytest.mark.parametrize("story", STORIES, ids=[story.ref for story in STORIES])
def test_infection(unit: Unit, story: Story) -> None:
    lines = unit.lines(story.ref, *COMMAND, *story.options)
    (line,) = [one for one in lines if one["line"] == "operation"]
    assert {name: line[f"infection_{name}"] for name, _ in story.said} == dict(story.said)


@pytest.mark.parametrize("one", KIDNEYS, ids=[one.why for one in KIDNEYS])
def test_kidney(unit: Unit, one: Kidney) -> None:
    rows = [
        row
        for row in unit.answer(*COMMAND)[0]["rows"]
        if row["section"] == "kidney" and row["group"] == {"year": one.year}
    ]
    told = {row["what"]: row for row in rows}
    reached = [told[name] for name in ("KDIGO stage 1 or more", "KDIGO stage 2 or more", "KDIGO stage 3")]
    if one.values[-1][0] != 30:
        known = {row["n"] for row in reached}
        assert known == {0 if one.stage is None else 1}, one.why
        assert sum(row["events"] for row in reached) == (one.stage or 0), one.why
    change = told["Change of eGFR"]
    if one.values[-1][0] == 30:
        assert change["n"] == (one.before is not None)
        if one.before is None:
            assert (change["estimate"], change["mean_before"]) == (None, None)
        else:
            assert change["mean_before"] == pytest.approx(one.before, abs=0.05)
            assert change["estimate"] == pytest.approx(one.change, abs=0.05)


def test_every_change_leads_back_to_its_case(unit: Unit) -> None:
    (line,) = [one for one in unit.lines("kidney 2013", *COMMAND) if one["line"] == "operation"]
    assert float(line["kidney_egfr_before"]) == pytest.approx(68.6, abs=0.05)
    assert (line["kidney_day_before"], line["kidney_day_after"], line["kidney_reason"]) == ("-5", "30", "")
    (line,) = [one for one in unit.lines("kidney 2015", *COMMAND) if one["line"] == "operation"]
    assert (line["kidney_egfr_before"], line["kidney_reason"]) == ("", "pregnant")
