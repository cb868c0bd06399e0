"""Reviewed, due, in the window, the index and the rates, by hand, through the intake and the command."""

from __future__ import annotations

from math import sqrt
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import sqlite_copy
from tests.golden.outcomes.asked import Unit
from tests.golden.outcomes.story_book import Book
from tests.golden.outcomes.window_cases import write

COMMAND = ("complications", "--days", "30,90", "--unreviewed", "reviewed,lower,upper", "--show", "all")


@pytest.fixture(scope="module")
def unit(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Unit:
    folder = tmp_path_factory.mktemp("windows")
    book = Book()
    write(book)
    location = sqlite_copy(sqlite_template, folder / "unit.db")
    book.load(location, folder)
    return Unit(location, tuple(book.people.items()))


def operations(unit: Unit, name: str) -> list[dict[str, str]]:
    lines = [line for line in unit.lines(name, *COMMAND) if line["line"] == "operation"]
    return sorted(lines, key=lambda line: line["operated_on"])


@pytest.mark.parametrize(
    ("name", "in_30", "in_90"),
    [
        ("day-30", "yes", "yes"),
        ("day-31", "no", "yes"),
        ("day-90", "no", "yes"),
        ("day-91", "no", "no"),
        ("month-across", "not known", "yes"),  # 1 April is day 22, 30 April day 51
        ("month-inside", "yes", "yes"),  # 31 March is day 30
        ("month-after", "no", "yes"),  # 1 April is day 31
        ("no-onset", "not known", "not known"),
    ],
)
def test_in_the_window(unit: Unit, name: str, in_30: str, in_90: str) -> None:
    (event,) = [line for line in unit.lines(name, *COMMAND) if line["line"] == "complication"]
    assert (event["in_30"], event["in_90"]) == (in_30, in_90)
    spans = {"yes": "II", "no": "none", "not known": "none to II"}
    (operation,) = operations(unit, name)
    assert (operation["worst_30"], operation["worst_90"]) == (spans[in_30], spans[in_90])


def test_an_event_belongs_to_its_main_operation_and_those_it_came_after_as_well(unit: Unit) -> None:
    assert [line["worst_30"] for line in operations(unit, "also-after")] == ["II", "II"]
    assert [line["worst_30"] for line in operations(unit, "main-only")] == ["none", "II"]


def test_two_sides_are_one_operation(unit: Unit) -> None:
    assert [line["worst_30"] for line in operations(unit, "bilateral")] == ["II"]


@pytest.mark.parametrize(
    ("name", "due", "reviewed"),
    [
        ("contact-30", "yes", "yes"),
        ("contact-29", "yes", "no"),
        ("known-to-20", "yes", "no"),  # spoken to on day 40, of what had happened up to day 20
        ("unreviewed-known", "yes", "no"),
        ("died-12", "yes", "by death"),
        ("died-in-april", "yes", "by death"),
        ("not-due", "no", "no"),
        ("just-due", "yes", "no"),
    ],
)
def test_reviewed(unit: Unit, name: str, due: str, reviewed: str) -> None:
    (line,) = operations(unit, name)
    assert (line["due_30"], line["reviewed_30"]) == (due, reviewed)


@pytest.mark.parametrize(
    ("name", "index_30", "index_90"),
    [
        ("I+II+IIIb", 40.62, 40.62),  # half the root of 300 + 1750 + 4550
        ("5xIVb", 100, 100),  # half the root of 42750 is 103
        ("died-of-it", 100, 100),
        ("I+I", 12.25, 12.25),
        ("I-then-IIIb", 8.66, sqrt(4850) / 2),
        ("contact-30", 0, 0),
        ("day-31", 0, 20.92),
        ("open-grade", None, None),
        ("no-onset", None, None),
    ],
)
def test_index(unit: Unit, name: str, index_30: float | None, index_90: float | None) -> None:
    (line,) = operations(unit, name)
    for told, worked in ((line["index_30"], index_30), (line["index_90"], index_90)):
        assert (told == "") if worked is None else (float(told) == pytest.approx(worked, abs=0.005))


def test_died(unit: Unit) -> None:
    told = {name: operations(unit, name)[0]["died_30"] for name in ("died-12", "died-in-april", "died-of-it", "I+I")}
    assert told == {"died-12": "yes", "died-in-april": "not known", "died-of-it": "yes", "I+I": "no"}


def rate(unit: Unit, days: int, mode: str, *options: str) -> dict[str, Any]:
    rows = unit.answer(*COMMAND, *options)[0]["rows"]
    (row,) = [
        row
        for row in rows
        if row["section"] == "grades"
        and (row["days"], row["measure"], row["unreviewed"]) == (days, "any complication", mode)
    ]
    return row


@pytest.mark.parametrize(
    ("days", "mode", "events", "n", "unknown", "not_due"),
    [
        (30, "reviewed", 12, 20, 2, 1),
        (30, "lower", 13, 26, 5, 1),  # 2 open, 3 neither reviewed nor known to have had one
        (30, "upper", 18, 26, 5, 1),
        (90, "reviewed", 16, 20, 1, 2),
        (90, "upper", 21, 25, 4, 2),  # 16, no-onset, contact-30, contact-29, known-to-20; and one known unreviewed
    ],
)
def test_any_complication(unit: Unit, days: int, mode: str, events: int, n: int, unknown: int, not_due: int) -> None:
    row = rate(unit, days, mode)
    assert [row[name] for name in ("events", "n", "unknown", "not_due")] == [events, n, unknown, not_due]
    assert row["estimate"] == pytest.approx(events / n)
    assert row["low"] < row["estimate"] < row["high"]


def test_a_patient_counts_once_with_what_came_later(unit: Unit) -> None:
    """25 patients, one not due, 20 reviewed, 2 of them open: 11 of 18; the event of main-only is day 29 of day 0."""
    row = rate(unit, 30, "reviewed", "--unit", "patient")
    assert [row[name] for name in ("events", "n", "unknown", "not_due")] == [11, 18, 2, 1]
