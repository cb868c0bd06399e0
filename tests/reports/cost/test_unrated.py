"""What has no price or rate: which kinds of use refuse a course, which count as nothing, and how that is said."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.cohort.rows import Rows, day
from tests.reports.cost.clinic import FLEXIBLE, PERCUTANEOUS, clinic, scanned, treated, unit_of
from tests.reports.cost.conftest import Run, registry_of
from tests.spec.cost.accounts import rate

NOTE = "used something that has no rate and is not in these figures"


def helped(rows: Rows, side: int, what: str) -> None:
    """A complication on the day after, and what was done about it."""
    operation = rows.operation_of(side)
    known = {"what": "other", "renal_unit_id": unit_of(rows, side), "onset_on": day(1)}
    event = rows.add("complication", operation_id=operation, complication_number=1, **known)
    rows.add("therapy", complication_id=event, therapy_number=1, what=what, given_on=day(1))


def aftercare() -> Rows:
    """The clinic, with a transfusion on side 1, a retreatment elsewhere on side 2, and embolisation on side 4."""
    rows = clinic()
    helped(rows, 1, "transfusion")
    helped(rows, 4, "embolisation")
    helped(rows, 3, "antiemetic")
    rows.later(unit_of(rows, 2), 60, technique="flexible", place="elsewhere")
    return rows


def made(run: Run, registry: str, *arguments: str) -> dict[str, Any]:
    status, out, err = run("--threshold", "2", "--format", "json", *arguments, registry=registry)
    assert (status, err) == (0, "")
    return dict(json.loads(out))


def means(run: Run, registry: str, *arguments: str) -> dict[str, dict[str, Any]]:
    rows = made(run, registry, *arguments)["rows"]
    return {row["component"]: row for row in rows if row["section"] == "mean_cost"}


def test_a_component_without_any_rate_says_so_and_has_no_mean(run: Run, tmp_path: Path) -> None:
    location = registry_of(tmp_path, aftercare())
    rows = means(run, location)
    for name, courses in (("other", 2), ("drugs", 1), ("elsewhere", 1)):
        row = rows[name]
        assert (row["estimate"], row["low"], row["high"], row["share"], row["total"]) == (None,) * 5
        assert (row["reason"], row["not_costed"], row["n"], row["missing"]) == ("no rate", courses, 6, 0)
    # Nobody went to emergency: nothing was used, so nothing is a measured nothing.
    assert (rows["emergency"]["estimate"], rows["emergency"]["not_costed"]) == (0, 0)
    assert rows["all"]["not_costed"] == 4
    line = next(
        line for line in run("--threshold", "2", registry=location)[1].splitlines() if line.startswith("  other")
    )
    assert line.split() == ["other", "6", "0", "2", "no", "rate", "-", "-", "-"]


def test_a_component_of_which_some_has_a_rate_keeps_its_mean_and_counts_the_rest(run: Run, tmp_path: Path) -> None:
    rows = aftercare()
    rate(rows, "other", 1200, "embolisation")
    row = means(run, registry_of(tmp_path, rows))["other"]
    assert (row["estimate"], row["not_costed"], row["reason"]) == (pytest.approx(200), 1, None)


def test_a_group_that_used_only_what_has_no_rate_has_no_mean(run: Run, tmp_path: Path) -> None:
    rows = aftercare()
    rate(rows, "other", 1200, "embolisation")
    found = made(run, registry_of(tmp_path, rows), "--by", "technique")["rows"]
    other = {
        row["group"]["technique"]: row["estimate"]
        for row in found
        if row["section"] == "mean_cost" and row["component"] == "other"
    }
    assert other["percutaneous"] is None
    assert other["flexible"] == pytest.approx(1200 / 3)


def test_the_headline_says_how_many_courses_it_is_too_low_for(run: Run, tmp_path: Path) -> None:
    location = registry_of(tmp_path, aftercare())
    text = run("--threshold", "2", registry=location)[1]
    headline = " ".join(text.partition("Cost per stone-free case, EUR")[2].partition("Mean cost per course")[0].split())
    assert f"4 of 6 courses of known cost {NOTE}: drugs 1, retreatment elsewhere 1, other 2." in headline
    rows = [row for row in made(run, location)["rows"] if row["section"] == "cost_per_stone_free"]
    assert {row["unscanned"]: row["not_costed"] for row in rows} == {"complete": 4, "lower": 4, "upper": 4}
    without = run("--threshold", "2", "--components", "theatre,consumables", registry=location)[1]
    assert NOTE not in " ".join(without.split())


def test_what_was_not_asked_for_is_not_said_to_lack_a_rate(run: Run, tmp_path: Path) -> None:
    rows = clinic()
    rows.used(1, rows.model("energy_generator", single_use="no"))
    location = registry_of(tmp_path, rows)
    assert NOTE not in " ".join(run("--threshold", "2", registry=location)[1].split())
    (told,) = [row for row in made(run, location)["rows"] if row["section"] == "not_costed"]
    assert (told["component"], told["reason"]) == ("reusables", "purchase not asked for")


def test_every_kind_of_use_without_a_rate_does_what_the_definition_says(run: Run, tmp_path: Path) -> None:
    rows = aftercare()
    rows.tables["cost_rate"] = [row for row in rows.tables["cost_rate"] if row["item"] == "theatre_minute"]
    unit = unit_of(rows, 4)
    patient = rows.tables["renal_unit"][unit - 1]["patient_id"]
    for modality, place in (("ct", "elsewhere"), ("other", "here"), ("ultrasound", "here")):
        study = rows.add("examination", patient_id=patient, examined_on=day(20), modality=modality, place=place)
        rows.add("reading", examination_id=study, renal_unit_id=unit, finding="none_seen")
    for place in ("here", "elsewhere"):
        rows.later(unit, 12, "unplanned_attendance", place=place)
    rows.add("contact", patient_id=patient, contacted_on=day(40), method="clinic")
    rows.add("culture", patient_id=patient, taken_on=day(10), specimen="urine")
    for number, place in enumerate(("home", "clinic"), start=1):
        known = {"kind": "stent", "placed_on": day(0), "removed_on": day(14), "removed_where": place}
        rows.add("drain", renal_unit_id=unit, drain_number=number, **known)
    found = made(run, registry_of(tmp_path, rows))["rows"]
    told = {
        name: {
            (row["component"], row["what"]) for row in found if row["section"] == name and row["reason"] == "no rate"
        }
        for name in ("not_computable", "not_costed")
    }
    assert {component for component, _ in told["not_computable"]} == {
        "beds", "clinic", "emergency", "scans", "stent_removal",
    }  # fmt: skip
    assert told["not_costed"] >= {
        ("emergency", "emergency visit elsewhere"),
        ("scans", "Non-contrast CT elsewhere"),
        ("stent_removal", "stent taken out at home"),
        ("drugs", "Antiemetic"),
        ("elsewhere", "retreatment elsewhere"),
        ("other", "Blood transfusion"),
        ("other", "Embolisation"),
        ("other", "culture"),
    }
    assert not told["not_costed"] & told["not_computable"]


def test_the_definition_says_which_refuse_and_which_count_as_nothing(run: Run) -> None:
    flat = " ".join(run("--threshold", "2")[1].split())
    before = flat.partition("Cost per stone-free case, EUR")[0]
    assert "no cost, and counted as not computable, has a course" in before
    assert "other treatment of complications (transfusion, embolisation, open surgery and the like)" in before
    zero = " ".join(run("--threshold", "2", "--missing-price", "zero")[1].split())
    assert "an amount or day is not known still has no cost" in zero
    status, out, _ = run("--threshold", "2", "--format", "json")
    told = json.loads(out)["definition"]["without_price"]
    assert status == 0
    assert "theatre minutes" in told["not_computable"] and "cultures" in told["counted_as_nothing"]


NOBODY = 'name = "nobody"\n[[include]]\ncolumn = "year"\nat_least = 2300\nreason = "too early"\n'


def test_a_cohort_without_a_side_has_no_cost_and_says_so(run: Run, tmp_path: Path) -> None:
    rules, cases = tmp_path / "nobody.toml", tmp_path / "cases.csv"
    rules.write_text(NOBODY)
    status, out, _ = run("--rules", str(rules), "--cases", str(cases))
    assert status == 0
    assert "No course of treatment where stone removal was intended is in the cohort" in " ".join(out.split())
    assert len(cases.read_text(encoding="utf-8").splitlines()) == 1
    rows = json.loads(run("--rules", str(rules), "--format", "json")[1])["rows"]
    assert {(row["n"], row["estimate"]) for row in rows if row["section"] == "cost_per_stone_free"} == {(0, None)}
    assert run("--rules", str(rules), "--format", "csv")[0] == 0


def test_a_side_without_a_course_has_no_cost_and_no_fault(run: Run, tmp_path: Path) -> None:
    rows = Rows()
    rows.side()
    status, out, err = run(registry=registry_of(tmp_path, rows))
    assert (status, err) == (0, "")
    assert "so there is no cost" in " ".join(out.split())


def test_a_dearer_group_with_rates_alike_is_not_dominated(run: Run, tmp_path: Path) -> None:
    rows = clinic()
    for at in range(20):
        scanned(rows, treated(rows, PERCUTANEOUS, nights=1), None if at % 2 else 8.0)
        scanned(rows, treated(rows, FLEXIBLE), None if at % 2 else 8.0)
    asked = ("--unscanned", "complete", "--compare", "technique=percutaneous,flexible")
    location = registry_of(tmp_path, rows)
    (ratio,) = [row for row in made(run, location, *asked)["rows"] if row["section"] == "incremental_ratio"]
    assert "dominat" not in ratio["said"] and ratio["said"].startswith("dearer, rates not told apart")


@pytest.mark.parametrize("asked", [("--by", "technique"), (), ("--compare", "technique=percutaneous,flexible")])
def test_a_figure_says_that_it_ranks_nobody(run: Run, tmp_path: Path, asked: tuple[str, ...]) -> None:
    file = tmp_path / "figure.svg"
    assert run("--threshold", "2", *asked, "--figure", str(file))[0] == 0
    # Letters are drawn as outlines, with their words in a comment beside.
    drawn = " ".join(" ".join(re.findall(r"<!--(.*?)-->", file.read_text(encoding="utf-8"), re.S)).split())
    assert "A figure never ranks a surgeon by itself." in drawn
