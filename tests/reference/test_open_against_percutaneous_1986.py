"""A published comparison that reverses when the size of the stone is allowed for, from the workbook to the print-out.

Counts: Charig CR, Webb DR, Payne SR, Wickham JEA, Br Med J 1986;292:879-882; by size: Julious SA, Mullee MA, BMJ
1994;309:1480-1481. Effects, limits and tests were computed from these counts, by us where nothing else is said. The
limits of 0.91579 to 2.28587 and 0.5146 to 1.0883 were computed with z rounded to 1.96; they are asked for at the
level that belongs to it.
"""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from synthetic_cohort.workbook import write_workbook
from tests.command_line import gravelbook
from tests.conftest import sqlite_copy
from tests.reference.published_1986 import COUNTS, published_patients

# After three months, "free of stones or with particles smaller than 2 mm", every film at its word.
AS_PUBLISHED = ("--threshold", "lt2", "--adequacy", "as-published", "--as-of", "1986-03-29")
REVERSAL = ("--compare", "technique=open,percutaneous", "--strata", "largest_mm:20", "--replicates", "200")
AT_ROUNDED_Z = ("--level", repr(math.erf(1.96 / math.sqrt(2))))
SMALL, LARGE = "under 20 mm", "20 mm and over"


@pytest.fixture(scope="module")
def location(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """A registry that the published patients were loaded into."""
    folder = tmp_path_factory.mktemp("published")
    place = str(sqlite_copy(sqlite_template, folder / "unit.db"))
    write_workbook(published_patients(), folder / "series.xlsx", identity=False)
    loaded = gravelbook("intake", "load", str(folder / "series.xlsx"), "--registry", place)
    assert loaded.status == 0, loaded.out + loaded.err
    return place


def told(location: str, *options: str) -> dict[str, Any]:
    asked = gravelbook("stone-free", "--registry", location, *AS_PUBLISHED, *options, "--format", "json")
    assert (asked.status, asked.err) == (0, "")
    whole: dict[str, Any] = json.loads(asked.out)
    return whole


@pytest.fixture(scope="module")
def compared(location: str) -> dict[str, Any]:
    (found,) = told(location, *REVERSAL, *AT_ROUNDED_Z)["comparisons"]
    compared: dict[str, Any] = found
    return compared


def three(effect: dict[str, Any]) -> tuple[float, float, float]:
    return effect["estimate"], effect["low"], effect["high"]


def test_the_rates_of_1986(location: str) -> None:
    rows = {row["group"]["technique"]: row for row in told(location, "--by", "technique")["rows"]}
    # Charig and others 1986: open 273/350 (78 %), percutaneous 289/350 (83 %).
    assert {name: (row["stone_free"], row["n"]) for name, row in rows.items()} == {
        "open": (273, 350),
        "percutaneous": (289, 350),
    }
    assert [round(100 * rows[name]["rate"]) for name in ("open", "percutaneous")] == [78, 83]
    assert all(row["unknown"] == row["not_due"] == 0 and row["eligible"] == 350 for row in rows.values())


def test_the_rates_by_size_of_1994(location: str) -> None:
    rows = told(location, "--by", "technique,largest_mm:20")["rows"]
    found = {(row["group"]["technique"], row["group"]["largest_mm"]): row for row in rows}
    expected = {(name, LARGE if large else SMALL): counts for (name, large), counts in COUNTS.items()}
    assert {group: (row["stone_free"], row["n"]) for group, row in found.items()} == expected
    # Computed: 81/87 and 55/80 with Wilson's limits.
    assert [found["open", SMALL][name] for name in ("low", "high")] == pytest.approx((0.8576, 0.9680), abs=0.51e-4)
    assert [found["percutaneous", LARGE][name] for name in ("low", "high")] == pytest.approx(
        (0.5793, 0.7785), abs=0.51e-4
    )
    # One side a patient: nothing to allow for.
    assert all(row["low"] == row["low_clustered"] and row["patients"] == row["n"] for row in rows)


def test_crude_favours_percutaneous(compared: dict[str, Any]) -> None:
    crude = compared["crude"]
    assert three(crude["odds_ratio"]) == pytest.approx((0.7483, 0.5146, 1.0883), abs=0.51e-4)  # computed
    assert crude["difference"]["estimate"] == pytest.approx(273 / 350 - 289 / 350)
    assert crude["odds_ratio"]["estimate"] == pytest.approx((273 * 61) / (77 * 289))


def test_each_stratum_and_all_together_favour_open(location: str, compared: dict[str, Any]) -> None:
    rates = {
        tuple(row["group"].values()): row["rate"] for row in told(location, "--by", "technique,largest_mm:20")["rows"]
    }
    for size in (SMALL, LARGE):
        assert rates["open", size] > rates["percutaneous", size]
    pooled = compared["mantel_haenszel"]
    # Computed; the limits are those of Robins, Breslow and Greenland.
    assert three(pooled["odds_ratio"]) == pytest.approx((1.44685, 0.91579, 2.28587), abs=0.51e-5)
    assert pooled["difference"]["estimate"] == pytest.approx(0.053836, abs=0.51e-6)
    assert compared["crude"]["odds_ratio"]["estimate"] < 1 < pooled["odds_ratio"]["estimate"]
    assert compared["strata_left_out"] == []


def test_standardised_to_the_sizes_of_both(compared: dict[str, Any]) -> None:
    # Derived: each technique's rates by size, in the mix of all 700 (357 below 2 cm, 343 of 2 cm or more).
    open_rate = 357 / 700 * 81 / 87 + 343 / 700 * 192 / 263
    percutaneous_rate = 357 / 700 * 234 / 270 + 343 / 700 * 55 / 80
    assert (round(100 * open_rate, 2), round(100 * percutaneous_rate, 2)) == (83.25, 77.89)
    groups = compared["groups"]
    assert groups["index"]["rate_standardised"] == pytest.approx(open_rate)
    assert groups["comparator"]["rate_standardised"] == pytest.approx(percutaneous_rate)
    assert compared["standardised"]["difference"]["estimate"] == pytest.approx(open_rate - percutaneous_rate)


def test_one_odds_ratio_for_both_sizes(compared: dict[str, Any]) -> None:
    # Computed: Breslow and Day 0.96845 (p 0.32507); the command prints it with Tarone's correction, worked out here.
    plain, corrected = breslow_day(compared["mantel_haenszel"]["odds_ratio"]["estimate"])
    assert plain == pytest.approx(0.96845, abs=0.51e-5)
    assert chi_squared_p(plain) == pytest.approx(0.32507, abs=0.51e-5)
    test = compared["homogeneity"]
    assert test["test"] == "Breslow-Day with Tarone's correction"
    assert (test["statistic"], test["df"]) == (pytest.approx(corrected, rel=1e-9), 1)
    assert test["p"] == pytest.approx(chi_squared_p(corrected), rel=1e-9)


def breslow_day(odds_ratio: float) -> tuple[float, float]:
    """The statistic without and with Tarone's correction, by the formulas of Breslow and Day 1980, section 4.4."""
    plain = surplus = variance = 0.0
    for large in (False, True):
        (free, n1), (free_other, n0) = COUNTS["open", large], COUNTS["percutaneous", large]
        m = free + free_other
        # The count expected under the common odds ratio: the root of a quadratic that lies between its bounds.
        a, b, c = 1 - odds_ratio, n0 - m + odds_ratio * (n1 + m), -odds_ratio * n1 * m
        expected = (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)
        spread = 1 / (1 / expected + 1 / (m - expected) + 1 / (n1 - expected) + 1 / (n0 - m + expected))
        plain += (free - expected) ** 2 / spread
        surplus += free - expected
        variance += spread
    return plain, plain - surplus**2 / variance


def chi_squared_p(statistic: float) -> float:
    """The upper tail of chi squared on one degree of freedom."""
    return math.erfc(math.sqrt(statistic / 2))


def test_the_print_out_names_both_directions_and_every_method(location: str) -> None:
    asked = gravelbook("stone-free", "--registry", location, *AS_PUBLISHED, *REVERSAL)
    assert (asked.status, asked.err) == (0, "")
    text = " ".join(asked.out.split())
    assert "technique: open against percutaneous, < 2 mm, complete case" in text
    assert "open 273 of 350 78.0 %" in text
    assert "percutaneous 289 of 350 82.6 %" in text
    assert "odds ratio crude 0.75 0.51 to 1.09" in text
    assert "within strata (Mantel-Haenszel) 1.45 0.92 to 2.29" in text
    assert "Standardised rates: open 83.3 %, percutaneous 77.9 %." in text
    assert "Breslow-Day with Tarone's correction: 0.97 on 1 df, p = 0.326" in text
    assert "Effects are index minus, or over, comparator" in text
    assert "Adequacy is switched off" in text
    for method in ("Newcombe", "Katz", "Woolf", "Robins-Breslow-Greenland", "Greenland-Robins", "Sato"):
        assert method in text
