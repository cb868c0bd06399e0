"""Failures, lives, safety notices and the scales of the operation, by hand, through the intake and the command."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from tests.command_line import gravelbook
from tests.conftest import sqlite_copy
from tests.golden.outcomes.asked import Unit
from tests.golden.outcomes.equipment_cases import LOT, SERIAL, write
from tests.golden.outcomes.story_book import Book

CODE = f"(01)51022222233336(10){LOT}(21)1234"
SINCE = ("--since", "2024-01-01")


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Unit:
    folder = tmp_path_factory.mktemp("equipment")
    book = Book()
    write(book)
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book.load(location, folder)
    return Unit(location, tuple(book.people.items()))


def traced(unit: Unit, *words: str) -> dict[str, set[str]]:
    """The names of the people by how well their uses fit."""
    target = unit.location.parent / "traced.csv"
    target.unlink(missing_ok=True)
    told = gravelbook(
        *("equipment", "--registry", str(unit.location), "--format", "json", "--cases", str(target), *SINCE, *words)
    )
    assert told.status == 0, told.err
    json.loads(told.out)
    names = {number: name for name, number in unit.people}
    found: dict[str, set[str]] = {}
    for line in csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))):
        found.setdefault(line["match"], set()).add(names[line["study_number"]])
    return found


def test_a_lot_is_found_however_it_was_written(unit: Unit) -> None:
    found = traced(unit, "--model", "FLEX1", "--lot", LOT)
    assert found["certain"] == {"scanned", "bracketed"}
    assert found["possible"] == {"typed-otherwise", "wrong-digit"}
    assert found["cannot be excluded"] == {"nothing-recorded", "same-scope-twice", "untold"}


def test_a_lot_alone_is_looked_for_in_every_model(unit: Unit) -> None:
    found = traced(unit, "--lot", LOT)
    assert found["certain"] == {"scanned", "bracketed", "other-model"}
    assert "other-lot" not in set().union(*found.values())


def test_one_piece_on_many_patients(unit: Unit) -> None:
    assert traced(unit, "--serial", SERIAL)["certain"] == {"scanned", "typed-otherwise", "same-scope-twice"}
    assert traced(unit, "--serial", "sn100")["possible"] >= {"scanned", "typed-otherwise", "same-scope-twice"}
    assert traced(unit, "--serial", "1234")["certain"] == {"scanned"}


def test_a_model(unit: Unit) -> None:
    found = traced(unit, "--model", "FLEX2")
    assert found == {"certain": {"other-model", "two-scopes"}}


@pytest.mark.parametrize(
    "written", [CODE, f"015102222223333610{LOT}\x1d211234", f"]d2015102222223333610{LOT}\x1d211234"]
)
def test_a_scanned_code_however_it_is_spelt(unit: Unit, written: str) -> None:
    assert traced(unit, "--udi", written)["certain"] == {"scanned"}


@pytest.mark.parametrize("wrong", [CODE.replace("36(10)", "37(10)"), "", "hello"])
def test_a_code_that_cannot_be_read_is_refused(unit: Unit, wrong: str) -> None:
    told = gravelbook("equipment", "--registry", str(unit.location), "--udi", wrong, "--format", "json")
    assert (told.status, told.out) == (2, "")
    assert "--udi" in told.err


def test_failures_of_scopes_opened(unit: Unit) -> None:
    rows = [row for row in unit.answer("equipment", *SINCE)[0]["rows"] if row["section"] == "failures"]
    assert [(row["n"], row["events"], row["unknown"]) for row in rows[:1]] == [(10, 1, 1)]
    assert rows[0]["low"] < rows[0]["estimate"] == 0.1 < rows[0]["high"]


def scale(unit: Unit, name: str) -> dict[str, tuple[int, int, int, int]]:
    rows = unit.answer("complications", "--show", "in-operation", "--by", "year")[0]["rows"]
    return {
        row["grade"]: (row["events"], row["n"], row["unknown"], row["not_applicable"])
        for row in rows
        if row["group"] == {"year": 2023} and name in row["scale"]
    }


def test_scales(unit: Unit) -> None:
    satava, lesion, wall = (scale(unit, name) for name in ("satava", "lesion", "wall"))
    assert {satava[grade] for grade in ("1", "2a", "2b", "3")} == {(1, 6, 1, 1)}
    assert (satava["0"], satava["any"]) == ((2, 6, 1, 1), (4, 6, 1, 1))
    assert (lesion["uncomplicated"], lesion["complicated"]) == ((4, 7, 1, 0), (3, 7, 1, 0))
    assert (wall["low"], wall["high"], wall["2"]) == ((2, 4, 1, 2), (2, 4, 1, 2), (0, 4, 1, 2))


def test_an_injury_by_a_sheath_without_one_is_named(unit: Unit) -> None:
    told = gravelbook("complications", "--registry", str(unit.location), "--show", "in-operation")
    assert told.status == 0
    assert "no ureteric sheath was tried" in " ".join(told.out.split()) or "does not apply" in told.out


def test_every_grade_leads_back_to_its_case(unit: Unit) -> None:
    (line,) = unit.lines("scales 3", "complications", "--show", "in-operation", "--by", "year")
    told = [line[f"in_operation_{name}"] for name in ("satava", "ureteric_lesion", "wall_injury")]
    assert told == ["left 2a", "left 3", "left 3"]
    (line,) = unit.lines("scales 6", "complications", "--show", "in-operation", "--by", "year")
    assert (line["in_operation_satava"], line["in_operation_wall_injury"]) == ("left missing", "left not applicable")
