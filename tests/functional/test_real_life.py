"""Units that a rate is hardly for: no operation yet, one alone, everything too early or too late."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from pathlib import Path
from typing import Any

import pytest

from tests.command_line import Answered, gravelbook
from tests.golden.stone_free_cases import ct, mm, patient
from tests.golden.stone_free_story import Operation, Patient, Side, WorkedCase, day
from tests.golden.through_workbook import Workbook

UNITS = ("side", "stone", "operation", "course", "patient")


def load(place: str, folder: Path, *patients: Patient) -> Workbook:
    book = Workbook([WorkedCase(ref="unit", why="", patients=patients, expected=())])
    book.save(folder / "unit.xlsx")
    loaded = gravelbook("intake", "load", str(folder / "unit.xlsx"), "--registry", place)
    assert loaded.status == 0, loaded.out
    return book


def ask(place: str, *options: str) -> Answered:
    said = gravelbook("stone-free", "--registry", place, *options)
    assert said.status == 0, said.err
    return said


def rows_of(place: str, *options: str) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads(ask(place, "--format", "json", *options).out)["rows"]
    return rows


def test_no_operation_yet(sqlite_location: str) -> None:
    said = gravelbook("stone-free", "--registry", sqlite_location)
    assert (said.status, said.out) == (1, "")
    assert "holds no operation" in said.err


@pytest.mark.parametrize("unit", UNITS)
def test_no_operation_by_a_day_has_no_groups(sqlite_location: str, tmp_path: Path, unit: str) -> None:
    asked = ("--as-of", "2024-01-01", "--unit", unit)
    (row,) = rows_of(sqlite_location, "--threshold", "2", *asked)
    assert (row["eligible"], row["n"], row["rate"], row["patients"]) == (0, 0, None, 0)
    assert rows_of(sqlite_location, "--by", "year", *asked) == []
    # Stretches between cuts are shown though nobody stands in them.
    assert [row["n"] for row in rows_of(sqlite_location, "--by", "largest_mm:10,20", "--threshold", "2", *asked)] == [
        0
    ] * 3
    assert "there is no rate" in ask(sqlite_location, "--by", "year", *asked).out
    target = tmp_path / "cases.csv"
    ask(sqlite_location, "--cases", str(target), *asked)
    assert list(csv.DictReader(io.StringIO(target.read_text()))) == []
    compared = gravelbook("stone-free", "--registry", sqlite_location, *asked, "--compare", "technique=open,robotic")
    assert (compared.status, compared.out) == (1, "")
    assert "nothing at all" in compared.err


@pytest.mark.parametrize("options", [("--format", "csv"), ("--figure", "none.svg"), ("--unscanned", "lower,upper")])
def test_nobody_is_answered_in_every_form(
    sqlite_location: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert ask(sqlite_location, "--as-of", "2024-01-01", *options).out


@pytest.mark.parametrize("unit", ["side", "operation", "course", "patient"])
def test_one_operation(sqlite_location: str, tmp_path: Path, unit: str) -> None:
    load(sqlite_location, tmp_path, patient(ct(30, mm(3))))
    asked = ("--as-of", "2025-01-01", "--unit", unit, "--threshold", "2,4")
    two, four = rows_of(sqlite_location, *asked)
    assert [(row["n"], row["stone_free"], row["patients"]) for row in (two, four)] == [(1, 0, 1), (1, 1, 1)]
    # One patient says nothing of how patients differ.
    assert two["low_clustered"] is two["high_clustered"] is None
    assert 0 <= two["low"] < two["high"] < 1
    text = ask(sqlite_location, *asked).out
    assert "0 of 1" in text
    assert "n < 5" in text
    assert "0.0 %" not in text
    # Nobody recorded the size of the stone: a group of its own, after the empty stretches.
    sized = rows_of(sqlite_location, *asked, "--by", "largest_mm:10")
    assert [row["group"]["largest_mm"] for row in sized[::2]] == ["under 10 mm", "10 mm and over", "not recorded"]


def test_the_last_operation_waits_when_nothing_later_is_recorded(sqlite_location: str, tmp_path: Path) -> None:
    load(sqlite_location, tmp_path, patient(ct(30)))
    # As of the scan itself the window of 90 days is not over, whatever the scan shows.
    (row,) = rows_of(sqlite_location, "--threshold", "0")
    assert (row["eligible"], row["not_due"]) == (0, 1)


def test_asked_as_of_a_day_before_everything(sqlite_location: str, tmp_path: Path) -> None:
    load(sqlite_location, tmp_path, patient(ct(30)), patient())
    whole = json.loads(ask(sqlite_location, "--as-of", "1900-01-01", "--format", "json", "--by", "year").out)
    assert whole["rows"] == []
    assert whole["definition"]["flow"][0]["left_out"] == {"sides": 2, "operations": 2, "patients": 2}


@pytest.mark.parametrize("window", ["3650:3700", "0:36500"])
def test_a_window_that_nobody_has_come_to_the_end_of(sqlite_location: str, tmp_path: Path, window: str) -> None:
    load(sqlite_location, tmp_path, patient(ct(30)), patient())
    (row,) = rows_of(sqlite_location, "--threshold", "0", "--window", window, "--as-of", "2025-12-31")
    assert (row["eligible"], row["not_due"], row["rate"]) == (0, 2, None)


def test_an_operation_of_which_rules_leave_one_kidney(sqlite_location: str, tmp_path: Path) -> None:
    both = Operation(ref="o1", on=day(0), sides=(Side(ref="l"), Side(ref="r", kidney="right", course="c2")))
    load(sqlite_location, tmp_path, Patient(operations=(both,)))
    rules = tmp_path / "right.toml"
    rules.write_text('[[exclude]]\ncolumn = "unit"\namong = ["left"]\nreason = "left kidneys"\n')
    for unit in ("operation", "patient"):
        asked = ("--as-of", "2025-12-31", "--threshold", "0", "--unit", unit, "--rules", str(rules))
        (row,) = rows_of(sqlite_location, *asked, "--by", "unit")
        assert (row["group"], row["eligible"], row["unknown"]) == ({"unit": "right"}, 1, 1)


def test_a_scan_before_the_year_1970_and_a_leap_day(sqlite_location: str, tmp_path: Path) -> None:
    on = dt.date(1964, 2, 29)
    book = Workbook([WorkedCase(ref="old", why="", patients=(patient(ct(30)),), expected=())])
    for sheet in book.rows.values():
        for row in sheet:
            for name, value in row.items():
                if isinstance(value, dt.date):
                    row[name] = on + (value - day(0))
    book.save(tmp_path / "old.xlsx")
    assert gravelbook("intake", "load", str(tmp_path / "old.xlsx"), "--registry", sqlite_location).status == 0
    target = tmp_path / "cases.csv"
    (row,) = rows_of(sqlite_location, "--threshold", "0", "--as-of", "1965-01-01", "--cases", str(target))
    assert (row["n"], row["stone_free"]) == (1, 1)
    (case,) = csv.DictReader(io.StringIO(target.read_text()))
    assert (case["operated_on"], case["examined_on"], case["days_after"]) == ("1964-02-29", "1964-03-30", "30")
