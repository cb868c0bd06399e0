"""What no list knows is refused at the door, cell by cell, so that no grade and no score can come of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from synthetic_cohort.workbook import write_workbook
from tests.command_line import gravelbook
from tests.conftest import sqlite_copy
from tests.golden.outcomes.story_book import Book, Operation

Wrong = Callable[[Operation], object]
WRONG: dict[str, Wrong] = {
    "therapy magic": lambda operation: operation.complication("fever", 2, "magic"),
    "kind hiccups": lambda operation: operation.complication("hiccups", 2, "analgesic"),
    "anaesthesia hypnosis": lambda operation: operation.complication("obstruction", 2, ("stent_placed", "hypnosis")),
    "grade IIIc": lambda operation: operation.complication("fever", 2, "none").graded("first", "IIIc"),
    "organs 7": lambda operation: operation.complication("sepsis", 2, "intensive_care", organs_failing=7),
    "organs -1": lambda operation: operation.complication("sepsis", 2, "intensive_care", organs_failing=-1),
    "location liver": lambda operation: operation.person.stone(location="liver"),
    "coma 2": lambda operation: operation.observed(1, coma_scale=2),
    "temperature 101": lambda operation: operation.observed(1, temperature_c=101),
}


@pytest.mark.parametrize("name", WRONG)
def test_refused_at_its_cell(sqlite_template: Path, tmp_path: Path, name: str) -> None:
    book = Book()
    WRONG[name](book.person("somebody").operation())
    file = tmp_path / "wrong.xlsx"
    write_workbook(book.rows, file, identity=False)
    location = sqlite_copy(sqlite_template, tmp_path / "unit.db")
    told = gravelbook("intake", "load", str(file), "--registry", str(location), "--by-whom", "data desk")
    assert told.status == 1
    assert name.split()[1] in told.out + told.err
    asked = gravelbook("complications", "--registry", str(location), "--format", "json")
    assert (asked.status, asked.out) == (1, "")  # nothing was loaded
