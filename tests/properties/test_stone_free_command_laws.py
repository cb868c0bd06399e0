"""Laws that every answer of the command obeys, on an invented unit with the demo's awkward patients."""

from __future__ import annotations

import csv
import io
import json
import random
from collections import Counter
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from synthetic_cohort.synthesis import demo_records
from synthetic_cohort.workbook import write_workbook
from tests.command_line import gravelbook
from tests.conftest import sqlite_copy

OPERATIONS, SEED = 90, 5
RISING = ("0", "lt2", "2", "lt3", "3", "lt4", "4", "6", "12")
UNITS = (
    ("--unit", "side"),
    ("--unit", "side", "--imaging", "ct", "--stones", "targeted"),
    ("--unit", "side", "--retreated", "unknown", "--died", "failed", "--pick", "best"),
    ("--unit", "side", "--window", "0:365", "--denominator", "protocol", "--assume-slice", "2"),
    ("--unit", "stone"),
    ("--unit", "operation", "--adequacy", "as-published"),
    ("--unit", "course", "--sessions", "planned"),
    ("--unit", "patient", "--sessions", "auxiliary", "--research"),
)
SPLITS = (
    "technique",
    "operator,year",
    "largest_mm:10,20",
    "scope_to_sheath_band,bilateral",
    "study_number",
    "age_years:18:40:65,sex",
    "bmi",
    "operated_on",
)
COUNTED = (
    "eligible",
    "n",
    "unknown",
    "not_due",
    "died",
    "retreated_planned",
    "retreated_unplanned",
    "abandoned",
    "stone_free",
    "n_adequate",
    "failed_inadequate",
)


def registry_of(folder: Path, template: Path, *, shuffled: int | None = None) -> str:
    rows = demo_records(SEED, OPERATIONS)
    if shuffled is not None:
        rows = {sheet: random.Random(shuffled).sample(listed, len(listed)) for sheet, listed in rows.items()}
    write_workbook(rows, folder / "unit.xlsx")
    place = str(sqlite_copy(template, folder / "unit.db"))
    loaded = gravelbook("intake", "load", str(folder / "unit.xlsx"), "--registry", place)
    assert loaded.status == 0, loaded.out
    return place


@pytest.fixture(scope="module")
def location(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("invented"), sqlite_template)


def told(location: str, *options: str, thresholds: tuple[str, ...] = RISING) -> dict[str, Any]:
    asked = gravelbook(
        *("stone-free", "--registry", location, "--format", "json"),
        *("--threshold", ",".join(thresholds), "--unscanned", "complete,lower,upper", *options),
    )
    assert asked.status == 0, asked.err
    whole: dict[str, Any] = json.loads(asked.out)
    return whole


def cases_of(location: str, target: Path, *options: str) -> tuple[dict[str, Any], list[dict[str, str]]]:
    whole = told(location, "--cases", str(target), *options, thresholds=("lt2", "4"))
    return whole, list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))


@pytest.mark.parametrize("options", UNITS, ids=" ".join)
def test_more_allowed_is_never_fewer_stone_free_and_the_bounds_hold_the_known(
    location: str, options: tuple[str, ...]
) -> None:
    rows = told(location, *options)["rows"]
    by_way = {way: [row for row in rows if row["unscanned"] == way] for way in ("complete", "lower", "upper")}
    for way, of_way in by_way.items():
        rates = [row["rate"] for row in of_way]
        assert len(rates) == len(RISING)
        assert all(before <= after for before, after in pairwise(rates)), way
    for complete, lower, upper in zip(*by_way.values(), strict=True):
        assert lower["rate"] <= complete["rate"] <= upper["rate"]
        assert lower["n"] == upper["n"] == complete["eligible"] == complete["n"] + complete["unknown"]
        assert upper["stone_free"] - lower["stone_free"] == complete["unknown"]
        assert complete["n_adequate"] + complete["failed_inadequate"] == complete["n"]
    same = [(row["eligible"], row["not_due"], row["died"]) for row in rows]
    assert len(set(same)) == 1


@pytest.mark.parametrize("options", UNITS, ids=" ".join)
def test_everybody_is_counted_once(location: str, tmp_path: Path, options: tuple[str, ...]) -> None:
    whole, cases = cases_of(location, tmp_path / "cases.csv", *options)
    units = {case["unit_id"] for case in cases}
    for row in whole["rows"]:
        lines = [
            case
            for case in cases
            if (case["threshold_mm"], case["comparison"]) == (f"{row['threshold_mm']:g}", row["comparison"])
        ]
        assert {case["unit_id"] for case in lines} == units
        assert len(lines) == len(units)
        out = sum(case["status"] == "out" for case in lines)
        assert row["eligible"] + row["not_due"] + row["died"] + out == len(units)
        assert sum(row["modalities"].values()) == row["eligible"]
    flow = whole["definition"]["flow"]
    if options[1] == "side":
        held = flow[-1]["stayed"]["sides"] if flow else len(units)
        assert held == len(units)


@pytest.mark.parametrize(
    ("options", "split"),
    [*((UNITS[0], split) for split in SPLITS), *((options, split) for options in UNITS[5:] for split in SPLITS[:3])],
    ids=lambda asked: asked if isinstance(asked, str) else " ".join(asked),
)
def test_groups_add_up_and_their_cases_are_theirs(
    location: str, tmp_path: Path, options: tuple[str, ...], split: str
) -> None:
    whole, cases = cases_of(location, tmp_path / "cases.csv", *options, "--by", split)
    everyone = told(location, *options, thresholds=("lt2", "4"))["rows"]
    keys = ("threshold_mm", "comparison", "unscanned")
    for row in everyone:
        parts = [part for part in whole["rows"] if all(part[key] == row[key] for key in keys)]
        for name in COUNTED:
            assert sum(part[name] for part in parts) == row[name], name
        modalities: Counter[str] = Counter()
        for part in parts:
            modalities.update(part["modalities"])
        assert dict(modalities) == row["modalities"]
    counted = Counter((case["group"], float(case["threshold_mm"]), case["status"]) for case in cases)
    for row in whole["rows"]:
        group = ", ".join(str(value) for value in row["group"].values())
        of = {
            status: counted[group, row["threshold_mm"], status] for status in ("free", "failed", "unknown", "not_due")
        }
        assert row["eligible"] == of["free"] + of["failed"] + of["unknown"]
        assert row["stone_free"] == of["free"] + (of["unknown"] if row["unscanned"] == "upper" else 0)
        assert (row["unknown"], row["not_due"]) == (of["unknown"], of["not_due"])


def test_the_order_of_rows_changes_nothing(
    location: str, sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory
) -> None:
    other = registry_of(tmp_path_factory.mktemp("shuffled"), sqlite_template, shuffled=11)
    compared = ("--compare", "technique=flexible,semirigid", "--strata", "largest_mm:10", "--replicates", "100")
    for options in (*UNITS[4:], ("--by", "operator,technique"), ("--unit", "operation", "--by", "unit"), compared):
        here, there = told(location, *options), told(other, *options)
        for answer in (here, there):
            del answer["definition"]["snapshot"]  # its hash knows the registry's keys
        assert here == there, options
