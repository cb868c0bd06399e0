"""A theatre list is loaded by a mapping of its own, week after week."""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.store.registry import open_registry
from tests.command_line import Answered, gravelbook
from tests.intake.extracts.unit import MAPPINGS, Unit
from tests.intake.logs.mapping.logs import write_rows
from tests.validation.small_registry import day

HEADINGS = ["List date", "MRN", "Procedure", "Status"]
LIST = [
    HEADINGS,
    ["11.01.2024", "H-1", "FURS left", "confirmed"],  # day 10
    ["11.01.2024", "H-2", "PCNL right", ""],
    ["11.01.2024", "H-3", "Stent change", "cancelled"],
    ["12.01.2024", "", "Lunch", ""],
]


def load(unit: Unit, location: str, rows: list[list[str]], name: str, *more: str) -> Answered:
    file = write_rows(unit.folder / name, rows)
    mapping = str(MAPPINGS / "theatre_list.toml")
    return gravelbook("intake", "load", str(file), "--mapping", mapping, "--registry", location, *more)


def test_a_list_is_kept_line_by_line_and_matched(unit: Unit, location: str) -> None:
    unit.side(10, unit.patient("H-1"))
    answered = load(unit, location, LIST, "week1.csv")
    assert answered.status == 0, answered.err
    assert "4 lines, of which 4 new, 0 changed and 0 as before." in answered.out
    assert "1 are matched to an operation, 1 cancelled, 0 not a stone case and 2 left." in answered.out
    assert [row["state"] for row in unit.rows("theatre_list_line")] == ["matched", "open", "cancelled", "open"]
    assert (unit.only("batch")["source"], unit.rows("theatre_list_line")[0]["listed_on"]) == ("theatre list", day(10))
    head = unit.head()
    assert "loaded before" in load(unit, location, LIST, "again.csv").out
    assert unit.head() == head


def test_a_later_version_updates_the_lines_that_changed(unit: Unit, location: str) -> None:
    load(unit, location, LIST, "week1.csv")
    later = [HEADINGS, [*LIST[1][:3], "cancelled"], LIST[2], LIST[3], ["12.01.2024", "H-4", "FURS right", ""]]
    answered = load(unit, location, later, "week2.csv")
    assert "4 lines, of which 1 new, 1 changed and 2 as before." in answered.out
    assert "0 are matched to an operation, 2 cancelled, 0 not a stone case and 3 left." in answered.out
    assert "1 lines of these days are not on the list any more" in answered.out


@pytest.fixture
def lone(sqlite_location: str, tmp_path: Path) -> tuple[str, Unit]:
    """A unit in a file, for what is not about the engine."""
    with open_registry(sqlite_location) as registry:
        return sqlite_location, Unit(registry, tmp_path)


def test_a_word_that_no_translation_has_and_a_line_without_a_day_stop_the_list(lone: tuple[str, Unit]) -> None:
    location, unit = lone
    rows = [HEADINGS, ["11.01.2024", "H-1", "FURS", "perhaps"], ["", "H-2", "FURS", ""]]
    answered = load(unit, location, rows, "bad.csv")
    assert answered.status == 1 and "2 errors" in answered.out
    assert "bad.csv!D2" in answered.out and "bad.csv!A3" in answered.out
    assert "H-2" not in answered.out and "FURS" not in answered.out
    checked = gravelbook(
        "intake",
        "check",
        str(unit.folder / "bad.csv"),
        "--mapping",
        str(MAPPINGS / "theatre_list.toml"),
        "--registry",
        location,
    )
    assert checked.status == 1 and "bad.csv!D2" in checked.out


def test_a_line_without_a_number_is_asked_about(lone: tuple[str, Unit]) -> None:
    location, unit = lone
    answered = load(unit, location, [HEADINGS, ["11.01.2024", "", "FURS", ""]], "list.csv")
    assert answered.status == 0 and "question" in answered.out and "nothing matches it" in answered.out


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('kind = "theatre_list"', 'kind = "log"', 'is for a mapping with kind = "theatre_list"'),
        ('"cancelled" = "cancelled"', '"cancelled" = "not_stone"', "a list says cancelled or open alone"),
        ("theatre_list_line.wording", "operation.note", "a theatre list fills nothing but its own lines"),
        ("theatre_list_line.listed_on", "theatre_list_line.wording", "theatre_list_line.listed_on is needed"),
        ("theatre_list_line.wording", "theatre_list_line.words", "one of: listed_on, hospital_number, wording, state"),
    ],
)
def test_mistakes_of_a_mapping_are_named(lone: tuple[str, Unit], old: str, new: str, says: str) -> None:
    location, unit = lone
    text = (MAPPINGS / "theatre_list.toml").read_text()
    assert old in text
    mapping = unit.folder / "wrong.toml"
    mapping.write_text(text.replace(old, new))
    file = write_rows(unit.folder / "list.csv", LIST)
    answered = gravelbook("intake", "load", str(file), "--mapping", str(mapping), "--registry", location)
    assert answered.status == 1 and says in answered.err, answered.err
