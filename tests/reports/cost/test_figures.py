"""Cost per stone-free case end to end on a real registry: numbers, counts, cases and figures."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import pytest

from tests.reports.cost.conftest import Run

PLANE = ("--compare", "technique=percutaneous,flexible")


def told(run: Run, *arguments: str) -> dict[str, Any]:
    status, out, err = run("--threshold", "2", "--format", "json", *arguments)
    assert (status, err) == (0, "")
    return dict(json.loads(out))


def section(run: Run, name: str, *arguments: str) -> list[dict[str, Any]]:
    return [row for row in told(run, *arguments)["rows"] if row["section"] == name]


def test_all_courses_over_the_free_among_them(run: Run) -> None:
    rows = {row["unscanned"]: row for row in section(run, "cost_per_stone_free")}
    # Three at 600 + 100 + 400 + 140, one at 840, one failure at 840 + 700; four are free.
    complete = rows["complete"]
    assert (complete["n"], complete["stone_free"], complete["total_cost"]) == (5, 4, 3 * 1240 + 840 + 1540)
    assert complete["estimate"] == pytest.approx(6100 / 4)
    # The one never scanned cost 700.
    assert (rows["lower"]["n"], rows["lower"]["estimate"]) == (6, pytest.approx(6800 / 4))
    assert (rows["upper"]["n"], rows["upper"]["estimate"]) == (6, pytest.approx(6800 / 5))
    assert rows["upper"]["estimate"] < rows["lower"]["estimate"]
    assert complete["low"] < complete["estimate"] < complete["high"]
    assert complete["low_fieller"] < complete["estimate"] < complete["high_fieller"]


def test_who_is_not_in_n_is_counted_by_why(run: Run) -> None:
    (complete,) = section(run, "cost_per_stone_free", "--unscanned", "complete")
    assert (complete["eligible"], complete["unknown"], complete["status_unknown"]) == (7, 2, 1)
    assert (complete["cost_missing"], complete["cost_not_due"], complete["not_due"]) == (1, 0, 1)
    (missing,) = section(run, "not_computable")
    assert (missing["component"], missing["what"], missing["reason"], missing["courses"]) == (
        "consumables", "M2", "no price", 1,
    )  # fmt: skip


def test_mean_cost_counts_failures_and_its_parts_add_up(run: Run) -> None:
    rows = {row["component"]: row for row in section(run, "mean_cost")}
    assert (rows["all"]["n"], rows["all"]["estimate"]) == (6, pytest.approx(6800 / 6))
    parts = [row for name, row in rows.items() if name != "all"]
    assert sum(row["estimate"] for row in parts) == pytest.approx(rows["all"]["estimate"])
    assert sum(row["share"] for row in parts) == pytest.approx(1)
    assert rows["consumables"]["missing"] == 1
    assert {row["n"] for row in parts} == {6}


def test_a_missing_price_as_zero_is_said_loudly(run: Run) -> None:
    status, out, err = run("--threshold", "2", "--missing-price", "zero")
    assert status == 0
    assert "Missing prices were counted as nothing" in err
    assert "COUNTED AS NOTHING, as asked" in out
    assert "MISSING PRICES WERE COUNTED AS NOTHING" in out
    made = json.loads(run("--threshold", "2", "--missing-price", "zero", "--format", "json")[1])
    complete = next(row for row in made["rows"] if row.get("unscanned") == "complete")
    assert (complete["n"], complete["stone_free"], complete["cost_missing"]) == (6, 5, 0)
    assert made["definition"]["zeroed"] == 1


def test_text_says_perspective_money_horizon_and_definition_before_a_number(run: Run) -> None:
    out = " ".join(run("--threshold", "2")[1].split())
    said = (
        "the hospital: what it uses up",
        "EUR; rates in prices of 2024",
        "day 0 to 90 after the index operation; not discounted",
        "minutes in the room where recorded, else operating minutes",
        "cost-of-course, version 1",
        "no fragment larger than 2 mm",
        "every course of treatment where stone removal was intended",
        "after the last planned stage",
    )
    for words in said:
        assert words in out
        assert out.index(words) < out.index("Cost per stone-free case, EUR")
    assert "A figure never ranks a surgeon by itself." in out


def test_groups_add_up_and_few_are_withheld_in_text(run: Run) -> None:
    rows = {
        row["group"]["technique"]: row
        for row in section(run, "cost_per_stone_free", "--by", "technique", "--unscanned", "complete")
    }
    assert [(rows[name]["n"], rows[name]["total_cost"]) for name in ("percutaneous", "flexible")] == [
        (3, 3720), (2, 2380),
    ]  # fmt: skip
    text = run("--threshold", "2", "--by", "technique")[1]
    assert "n < 5" in text
    assert "1,240" not in text.partition("Mean cost per course")[0]


def test_nobody_free_is_a_reason_and_no_number(run: Run) -> None:
    (row,) = section(run, "cost_per_stone_free", "--imaging", "kub", "--unscanned", "complete")
    assert (row["estimate"], row["low"], row["low_fieller"]) == (None, None, None)
    assert row["reason"] is not None
    out = " ".join(run("--threshold", "2", "--imaging", "second-look", "--retreated", "failed")[1].split())
    assert "no cost per stone-free case, because nobody is stone-free" in out


def test_two_groups_compared(run: Run) -> None:
    made = told(run, *PLANE, "--willing", "1000,5000", "--unscanned", "complete")
    names = ("differences", "incremental_ratio", "plane", "net_benefit")
    by_section = {name: [row for row in made["rows"] if row["section"] == name] for name in names}
    (difference,) = by_section["differences"]
    assert (difference["n_index"], difference["n_comparator"]) == (3, 2)
    assert difference["estimate"] == pytest.approx(1240 - 1190)
    assert difference["rate_difference"] == pytest.approx(0.5)
    (ratio,) = by_section["incremental_ratio"]
    assert ratio["estimate"] == pytest.approx(100)
    assert ratio["standing"] == "costs more, does more"
    assert (ratio["low"], ratio["reason"]) == (None, "the difference in effect is not clear of 0")
    (plane,) = by_section["plane"]
    assert sum(plane[name] for name in ("more_more", "more_less", "less_more", "less_less")) == pytest.approx(1)
    assert [(row["willing"], row["estimate"]) for row in by_section["net_benefit"]] == [
        (1000, pytest.approx(450)), (5000, pytest.approx(2450)),
    ]  # fmt: skip


def test_every_number_leads_back_to_its_courses(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "cases.csv"
    status, out, err = run("--threshold", "2", "--by", "technique", "--cases", str(file), "--format", "json")
    assert status == 0 and "not to leave the unit" in err
    assert file.stat().st_mode & 0o077 == 0
    with file.open(newline="") as opened:
        cases = list(csv.DictReader(opened))
    for row in json.loads(out)["rows"]:
        if row["section"] != "cost_per_stone_free":
            continue
        statuses = ("free", "failed") if row["unscanned"] == "complete" else ("free", "failed", "unknown")
        mine = [
            case
            for case in cases
            if case["group"] == row["group"]["technique"]
            and case["cost_state"] == "costed"
            and case["status_2"] in statuses
        ]
        assert (len(mine), sum(float(case["cost"]) for case in mine)) == (row["n"], pytest.approx(row["total_cost"]))
    unpriced = next(case for case in cases if case["cost_state"] == "not computable")
    assert (unpriced["cost"], unpriced["not_computable"]) == ("", "M2 (no price)")
    assert sum(case["cost_state"] == "horizon not over" for case in cases) == 1


@pytest.mark.parametrize("ending", [".png", ".svg"])
@pytest.mark.parametrize("asked", [PLANE, ("--by", "technique"), ()])
def test_figures_are_written(run: Run, tmp_path: Path, ending: str, asked: tuple[str, ...]) -> None:
    file = tmp_path / f"figure{ending}"
    status, _, err = run("--threshold", "2", *asked, "--figure", str(file))
    assert (status, err) == (0, f"Figure written to {file}.")
    first = file.read_bytes()
    assert first.startswith(b"\x89PNG" if ending == ".png" else b"<?xml")
    run("--threshold", "2", *asked, "--figure", str(file))
    assert file.read_bytes() == first


def test_csv_holds_every_section(run: Run) -> None:
    out = run("--threshold", "2", "--format", "csv")[1]
    sections = [line.partition(",")[0] for line in out.splitlines()[1:]]
    assert list(dict.fromkeys(sections)) == ["cost_per_stone_free", "mean_cost", "not_computable"]


def test_a_horizon_of_a_month_leaves_the_second_operation_out(run: Run) -> None:
    (row,) = section(run, "cost_per_stone_free", "--horizon", "30", "--unscanned", "complete")
    assert row["total_cost"] == 6100 - 700
