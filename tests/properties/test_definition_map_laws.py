"""Laws of the definition map, on an invented unit with the demo's awkward patients."""

from __future__ import annotations

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from synthetic_cohort.synthesis import demo_records
from synthetic_cohort.workbook import write_workbook
from tests.command_line import gravelbook
from tests.conftest import sqlite_copy

OPERATIONS, SEED = 70, 11
RISING = ("0", "lt2", "2", "3", "lt4", "4")


@pytest.fixture(scope="module")
def location(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    folder = tmp_path_factory.mktemp("mapped")
    write_workbook(demo_records(SEED, OPERATIONS), folder / "unit.xlsx")
    place = str(sqlite_copy(sqlite_template, folder / "unit.db"))
    loaded = gravelbook("intake", "load", str(folder / "unit.xlsx"), "--registry", place)
    assert loaded.status == 0, loaded.out
    return place


@pytest.fixture(scope="module")
def rows(location: str) -> list[dict[str, Any]]:
    found = gravelbook(
        *("stone-free", "--registry", location, "--show", "map", "--format", "json", "--replicates", "20")
    )
    assert found.status == 0, found.err
    return [row for row in json.loads(found.out)["rows"] if row["section"] == "definition_map"]


@pytest.fixture(scope="module")
def cells(rows: list[dict[str, Any]]) -> dict[tuple[str, ...], dict[str, dict[str, dict[str, Any]]]]:
    """Combination to handling to threshold to row."""
    made: dict[tuple[str, ...], dict[str, dict[str, dict[str, Any]]]] = {}
    for row in rows:
        combination = (row["imaging"], row["window"], row["unit"], row["sessions"])
        made.setdefault(combination, {}).setdefault(row["unscanned"], {})[row["threshold"]] = row
    return made


def test_a_stricter_threshold_never_raises_the_rate(cells):
    for modes in cells.values():
        for mode in ("complete", "lower", "upper"):
            for stricter, looser in pairwise(RISING):
                one, other = modes[mode][stricter]["estimate"], modes[mode][looser]["estimate"]
                assert one is None or other is None or one <= other + 1e-12


def test_bounds_hold_whatever_stands_between_them(cells):
    for modes in cells.values():
        for code in RISING:
            low, high = modes["lower"][code]["estimate"], modes["upper"][code]["estimate"]
            for mode in ("complete", "imputed"):
                row = modes.get(mode, {}).get(code)
                if row is not None and row["estimate"] is not None:
                    assert low - 1e-12 <= row["estimate"] <= high + 1e-12


def test_every_row_counts_the_same_patients_of_its_combination(cells):
    for modes in cells.values():
        for code in RISING:
            complete, lower = modes["complete"][code], modes["lower"][code]
            assert complete["n"] + complete["unknown"] == complete["eligible"] == lower["n"]
            assert sum(complete["modalities"].values()) == complete["eligible"]


def test_only_what_cannot_succeed_is_said_to(rows):
    for row in rows:
        if not row["can_succeed"] and row["unscanned"] in ("complete", "lower"):
            assert row["estimate"] in (None, 0)
        if row["estimate"] is None or not row["can_succeed"]:
            assert row["reason"]
