"""The command, on a real registry: numbers, words, cases, figure, and what is refused with which sentence."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from analysis.reports.request.source import ask_cohort
from analysis.reports.scores.command import scores
from analysis.reports.scores.figure_of import figure_data, figure_of, not_drawn
from analysis.reports.scores.gathered import gathered
from registry.store.registry import create_registry

from .unit import unit

Run = Callable[..., Result]


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    made = str(tmp_path_factory.mktemp("registry") / "unit.db")
    unit().written(create_registry(made))
    return made


@pytest.fixture
def run(location: str) -> Run:
    def asked(*arguments: str, registry: str = location) -> Result:
        return CliRunner().invoke(scores, ["--registry", registry, *arguments])

    return asked


def rows_of(result: Result, section: str) -> list[dict[str, Any]]:
    assert result.exit_code == 0, result.output
    return [row for row in json.loads(result.stdout)["rows"] if row["section"] == section]


def test_how_many_have_each_score(run: Run) -> None:
    found = {row["score"]: row for row in rows_of(run("--format", "json"), "computable")}
    told = {code: (row["sides"], row["outside"], row["n"], row["events"]) for code, row in found.items()}
    assert told == {
        "guys": (28, 0, 28, 27),
        "stone": (28, 0, 28, 28),
        "s_resc": (28, 0, 28, 28),
        "modified_s_resc": (3, 1, 2, 2),
        "resorlu_unsal": (3, 1, 2, 1),
        "rirs": (3, 1, 2, 1),
    }
    assert found["guys"]["estimate"] == pytest.approx(27 / 28)
    assert found["guys"]["not_computable"] == 1


def test_values_with_those_that_have_none_counted(run: Run) -> None:
    found = [row for row in rows_of(run("--format", "json"), "values") if row["score"] == "guys"]
    assert [(row["value"], row["events"], row["n"], row["unknown"]) for row in found] == [
        (1, 11, 27, 1),
        (2, 10, 27, 1),
        (3, 6, 27, 1),
    ]
    (rirs,) = [row for row in rows_of(run("--format", "json"), "values") if row["score"] == "rirs"]
    # Density 1, lower pole at 28 degrees 3, infundibular length 1, burden 1.
    assert (rirs["value"], rirs["unknown"]) == (6, 1)


def test_what_was_missing(run: Run) -> None:
    found = rows_of(run("--format", "json"), "missing")
    assert [(row["score"], row["missing"], row["events"], row["alone"], row["n"]) for row in found] == [
        ("guys", "anatomy", 1, 1, 1),
        ("resorlu_unsal", "infundibulopelvic angle", 1, 1, 1),
        ("rirs", "infundibulopelvic angle", 1, 1, 1),
    ]


def test_the_area_is_that_of_the_pairs(run: Run) -> None:
    (row,) = rows_of(run("--format", "json", "--score", "guys", "--show", "validation"), "discrimination")
    failed, free = [2, 6, 5], [8, 4, 1]
    order = [(f * g, a - b) for a, f in enumerate(failed) for b, g in enumerate(free)]
    pairs = sum(of * (1 if gap > 0 else 0.5 if gap == 0 else 0) for of, gap in order)
    assert (row["n"], row["events"], row["unknown"], row["not_computable"]) == (26, 13, 1, 1)
    assert row["estimate"] == pytest.approx(pairs / (13 * 13))
    assert row["low"] < row["estimate"] < row["high"]
    assert row["low_logit"] < row["estimate"] < row["high_logit"]
    assert row["low_clustered"] < row["estimate"] < row["high_clustered"]
    assert row["failed_inadequate"] == 0 and row["estimate_adequate"] == row["estimate"]


def test_rates_by_value_with_the_published_beside(run: Run) -> None:
    made = run("--format", "json", "--score", "guys,s_resc", "--show", "validation")
    found = rows_of(made, "rates")
    guys = [row for row in found if row["score"] == "guys"]
    assert [(row["value"], row["n"], row["events"], row["unknown"]) for row in guys] == [
        ("1", 10, 8, 1),
        ("2", 10, 4, 0),
        ("3", 6, 1, 0),
    ]
    assert guys[0]["published"][0] == {
        "where": "first series, Thomas 2011", "from_memory": True, "rate": 0.81, "free": None, "n": None, "of": "1"
    }  # fmt: skip
    assert (guys[0]["published"][1]["free"], guys[0]["published"][1]["from_memory"]) == (40, False)
    bands = {row["value"]: row for row in found if row["kind"] == "band"}
    assert (bands["low, 1 to 2"]["n"], bands["low, 1 to 2"]["published"][0]["rate"]) == (27, 0.960)


def test_text_says_what_is_from_memory_and_what_cannot_be_worked_out(run: Run) -> None:
    text = " ".join(run().stdout.split())
    assert "S-ReSC (from memory)" in text
    assert "From memory: the points of each item." in text
    assert "S.T.O.N.E. score of ureteroscopy: not computable for any side." in text
    assert "how the angle was measured: retrograde 1." in text
    assert "Modified S-ReSC (from memory), <= 4 mm: fewer than two of one outcome: no variance can be got;" in text
    assert (
        "R.I.R.S. score (from memory), <= 4 mm: everybody has the outcome, so there is nothing to tell apart." in text
    )
    assert "(1 of the cohort were treated for something else)" in text
    assert "A figure never ranks a surgeon by itself." in text
    assert "n < 5" in text


def test_few_of_either_outcome_are_named(run: Run) -> None:
    made = run("--format", "json", "--score", "guys", "--show", "validation", "--threshold", "lt7,4")
    first, second = rows_of(made, "discrimination")
    assert (first["comparison"], first["events"], second["events"]) == ("<", 0, 13)
    assert "nobody has the outcome" in first["reason"]


def test_scores_of_another_technique_only_when_asked_and_with_a_warning(run: Run) -> None:
    made = run("--any-technique", "--score", "guys", "--show", "values", "--format", "json")
    (row,) = rows_of(made, "computable")
    assert (row["sides"], row["outside"], row["events"]) == (31, 1, 29)
    assert "every technique" in json.loads(made.stdout)["definition"]["cautions"][0]
    assert "every technique" in " ".join(run("--any-technique", "--score", "guys").stdout.split())
    assert "every technique" not in run("--score", "guys").stdout


def test_groups(run: Run) -> None:
    made = run("--by", "technique", "--format", "json", "--show", "values,validation", "--score", "guys,rirs")
    found = {(row["group"]["technique"], row["score"]): row for row in rows_of(made, "computable")}
    assert (found["percutaneous", "guys"]["n"], found["flexible", "guys"]["n"]) == (28, 0)
    assert found["flexible", "guys"]["estimate"] is None
    areas = {(row["group"]["technique"], row["score"]): row for row in rows_of(made, "discrimination")}
    assert areas["percutaneous", "guys"]["n"] == 26
    assert areas["flexible", "guys"]["reason"] == "there is nobody"


def test_burden_with_its_methods(run: Run) -> None:
    rows = rows_of(run("--show", "burden", "--format", "json"), "burden")
    found = {(row["measure"], row["method"]): row for row in rows}
    assert (found["largest_mm", ""]["n"], found["largest_mm", ""]["estimate"]) == (31, 9.0)
    assert found["area_mm2", ""]["estimate"] == pytest.approx(42.41, abs=0.01)
    assert found["segmented_mm3", ""]["n"] == 0 and found["segmented_mm3", ""]["estimate"] is None
    assert found["density_hu", "mean_region"]["n"] == 31
    assert (found["angle_deg", "retrograde"]["n"], found["angle_deg", "retrograde"]["unknown"]) == (1, 30)


def test_cases_hold_items_points_and_what_is_missing(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "cases.csv"
    assert run("--cases", str(file), "--score", "rirs,guys").exit_code == 0
    with file.open(encoding="utf-8") as text:
        found = list(csv.DictReader(text))
    assert [row["score"] for row in found] == ["rirs"] * 3 + ["guys"] * 28
    first, second, third = found[:3]
    assert (first["items"], first["value"]) == ("density 1; lower pole 3; infundibular length 1; burden 1", "6")
    assert (first["from_memory"], first["angle_method"], first["status"]) == ("yes", "retrograde", "failed")
    assert (second["state"], second["value"], second["missing"]) == ("not computable", "", "infundibulopelvic angle")
    assert (second["lowest"], second["highest"]) == ("5", "6")
    assert (third["state"], third["reason"]) == ("outside", "a stone lies outside the kidney")
    assert float(first["area_mm2"]) == pytest.approx(42.41, abs=0.01)
    by_status = [row["status"] for row in found if row["score"] == "guys" and row["value"] == "1"]
    assert (by_status.count("free"), by_status.count("failed"), by_status.count("unknown")) == (8, 2, 1)


def test_csv_is_one_table_with_the_name_of_the_section_first(run: Run) -> None:
    made = run("--format", "csv", "--show", "values,missing", "--score", "guys").stdout
    rows = list(csv.DictReader(made.splitlines()))
    assert list(dict.fromkeys(row["section"] for row in rows)) == ["computable", "values", "missing"]
    first = next(row for row in rows if row["section"] == "values")
    assert (first["score"], first["value"], first["events"], first["n"]) == ("guys", "1", "11", "27")


def test_a_figure_is_written_and_refused_when_there_is_nothing_to_draw(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "scores.svg"
    assert run("--figure", str(file)).exit_code == 0
    text = file.read_text(encoding="utf-8")
    assert "S-ReSC (from memory)" in text and "8 of 10 free" in text
    refused = run("--figure", str(tmp_path / "none.png"), "--score", "stone_ureteroscopy")
    assert refused.exit_code == 1
    assert "nothing to draw" in str(refused.exception)
    assert not (tmp_path / "none.png").exists()


def test_what_the_figure_leaves_out_of_the_question_is_said(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "scores.svg"
    plain = run("--figure", str(file)).stderr
    assert " ".join(plain.split()) == f"Figure written to {file}."
    first = file.read_bytes()
    split = " ".join(run("--by", "technique", "--figure", str(file)).stderr.split())
    assert split == f"Figure written to {file}. It shows everyone: --by technique splits the tables alone."
    assert file.read_bytes() == first
    two = " ".join(run("--threshold", "4,2", "--figure", str(file)).stderr.split())
    assert "It shows the first threshold alone: no fragment larger than 4 mm (<= 4 mm)." in two
    # Letters are drawn as outlines, with their words in a comment beside.
    drawn = " ".join(" ".join(re.findall(r"<!--(.*?)-->", first.decode("utf-8"), re.S)).split())
    assert "A figure never ranks a surgeon by itself." in drawn


def test_all_shows_every_section(run: Run) -> None:
    asked = ("--score", "guys", "--format", "json")
    every = run("--show", "all", *asked)
    assert every.exit_code == 0, every.output
    assert {row["section"] for row in json.loads(every.stdout)["rows"]} == {
        "computable", "values", "discrimination", "rates", "missing", "burden",
    }  # fmt: skip
    assert every.stdout == run("--show", "values,validation,missing,burden", *asked).stdout


def test_a_score_that_nobody_has_is_named_in_the_figure(tmp_path: Path) -> None:
    rows = unit()
    for stone in rows.tables["stone"]:
        stone["skin_to_stone_mm"] = None
    made = str(tmp_path / "unit.db")
    rows.written(create_registry(made))
    file = tmp_path / "scores.png"
    held = gathered(ask_cohort(made), {}, any_technique=False)
    assert figure_of(held, "png").startswith(b"\x89PNG")
    observed, _ = figure_data(held, held.request.stone_free.definition.thresholds[0])
    assert not_drawn(held, observed) == [
        "Not drawn, for no side has both it and a known status: S.T.O.N.E. nephrolithometry (from memory)."
    ]
    assert CliRunner().invoke(scores, ["--registry", made, "--figure", str(file)]).exit_code == 0
    assert file.exists()


def test_an_empty_cohort_has_no_rate_and_no_fault(run: Run, tmp_path: Path) -> None:
    rules = tmp_path / "nobody.toml"
    rules.write_text('name = "nobody"\n[[include]]\ncolumn = "year"\nat_least = 2300\nreason = "too early"\n')
    cases = tmp_path / "cases.csv"
    asked = ("--rules", str(rules), "--show", "values,validation,missing,burden", "--cases", str(cases))
    made = run(*asked, "--format", "json")
    areas = rows_of(made, "discrimination")
    assert {(row["n"], row["estimate"], row["reason"]) for row in areas} == {(0, None, "there is nobody")}
    assert {row["estimate"] for row in rows_of(made, "computable")} == {None}
    assert len(cases.read_text(encoding="utf-8").splitlines()) == 1
    assert "Sides that have each score" in run(*asked).stdout


def test_the_ureteroscopic_score_alone_is_said_not_to_be_there(run: Run) -> None:
    made = run("--score", "stone_ureteroscopy")
    assert made.exit_code == 0
    assert "its bands of points are not coded" in " ".join(made.stdout.lower().split())


def test_settings_of_the_unit_hold_and_the_side_stays_the_unit(tmp_path: Path) -> None:
    made = str(tmp_path / "own.db")
    settings = {"stone_free_threshold": "0", "stone_free_unit": "patient", "small_number": "3"}
    unit(**settings).written(create_registry(made))
    result = CliRunner().invoke(scores, ["--registry", made, "--format", "json", "--show", "validation"])
    assert result.exit_code == 0, result.output
    definition = json.loads(result.stdout)["definition"]
    assert [one["code"] for one in definition["stone_free"]["thresholds"]] == ["0"]
    assert (definition["stone_free"]["unit"], definition["small_number"]) == ("side", 3)


def test_the_same_question_has_the_same_bytes(run: Run) -> None:
    assert run("--format", "json").stdout == run("--format", "json").stdout


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (("--score", "tallness"), "'tallness' is not known; choose one or more of guys, stone"),
        (("--score", "guys,guys"), "names one thing twice"),
        (("--show", "everything"), "choose one or more of values, validation, missing, burden"),
        (("--threshold", "big"), "is no threshold"),
        (("--figure", "scores.pdf"), "has to end in .png or .svg"),
        (("--cases", "cases.xlsx"), "has to end in .csv"),
        (("--by", "a,b,c"), "at most 2"),
        (("--replicates", "0"), "whole number from 1"),
    ],
)
def test_options_that_cannot_be_read(run: Run, typed: tuple[str, str], said: str) -> None:
    made = run(*typed)
    assert made.exit_code == 2
    assert said in " ".join(made.stderr.split())


def test_a_column_that_is_not_there(run: Run) -> None:
    made = run("--by", "tallness")
    assert made.exit_code == 1
    assert "no column of the cohort" in str(made.exception)
