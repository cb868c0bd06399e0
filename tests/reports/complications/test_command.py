"""The command, end to end on a real registry: what it prints, what it writes, and what it refuses."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from registry.schema.errors import GravelbookError
from registry.store.registry import create_registry
from tests.cohort.rows import Rows

from .asked import keyed, run
from .ward import ward


def registry_of(folder: Path, rows: Rows) -> str:
    location = str(folder / "unit.db")
    rows.written(create_registry(location))
    return location


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("registry"), ward())


def told(location: str, *arguments: str) -> dict[str, Any]:
    made = run("--registry", location, "--format", "json", *arguments)
    assert (made.exit_code, made.stderr) == (0, "")
    return dict(json.loads(made.stdout))


def test_json_holds_the_definition_and_rows_of_every_section(location: str):
    made = told(location, "--unreviewed", "reviewed,lower,upper")
    definition = made["definition"]
    assert definition["grade"]["id"] == "cd-therapy-1"
    assert "Dindo" in definition["grade"]["source"]
    assert "from memory" in definition["index"]["source"]
    assert definition["local_choices"] == {"catheter": "I", "alpha_blocker": "II"}
    assert (definition["as_of"], definition["days"], definition["denominator"]) == ("2025-02-04", [30], "intended")
    assert {row["section"] for row in made["rows"]} == {"review", "grades", "worst", "index", "attendance", "deaths"}
    rows = keyed(made["rows"], "grades", "measure", "unreviewed")
    assert (rows["any complication", "reviewed"]["n"], rows["any complication", "reviewed"]["events"]) == (5, 3)
    for row in made["rows"]:
        assert {"n", "unknown", "estimate", "low", "high"} <= set(row)


def test_text_says_definition_choices_and_who_was_reviewed_before_any_rate(location: str):
    out = run("--registry", location, "--by", "operator").stdout
    for said in ("cd-therapy-1", "a urethral catheter on the ward is grade I", "an alpha-blocker grade II"):
        assert said in " ".join(out.split())
    assert out.index("Who was reviewed") < out.index("Complications, worst grade at least")
    assert "events divided by people is no complication rate" in " ".join(out.split())
    assert "n < 5" in out  # S2 has one reviewed
    assert "A figure never ranks a surgeon by itself." in out


@pytest.mark.parametrize("output_format", ["text", "csv", "json"])
def test_the_same_question_gives_the_same_bytes(location: str, output_format: str):
    asked = ("--registry", location, "--show", "all", "--format", output_format, "--replicates", "50")
    one, two = run(*asked), run(*asked)
    assert one.exit_code == 0
    assert one.stdout == two.stdout


def test_cases_equal_the_rows(location: str, tmp_path: Path):
    target = tmp_path / "cases.csv"
    asked = ("--registry", location, "--format", "json", "--by", "operator", "--days", "30,90", "--cases", str(target))
    made = run(*asked)
    assert made.exit_code == 0
    assert "not to leave the unit" in made.stderr
    assert target.stat().st_mode & 0o077 == 0
    lines = list(csv.DictReader(io.StringIO(target.read_text())))
    rows = json.loads(made.stdout)["rows"]
    operations = [line for line in lines if line["line"] == "operation"]
    for (group, days), row in keyed(rows, "review", "days").items():
        own = [line for line in operations if line["group"] == group]
        assert sum(line[f"due_{days}"] == "yes" for line in own) == row["n"]
        seen = [line for line in own if line[f"due_{days}"] == "yes" and line[f"reviewed_{days}"] != "no"]
        assert len(seen) == row["events"]
        worst = Counter(line[f"worst_{days}"] for line in seen)
        for (of, at, grade), counted in keyed(rows, "worst", "days", "worst").items():
            if (of, at) == (group, days):
                assert worst[grade] == counted["events"]
    events = [line for line in lines if line["line"] == "complication"]
    assert len(events) == 6
    stented = next(line for line in events if line["what"] == "obstruction")
    assert (stented["proposal"], stented["first"], stented["second"], stented["used"], stented["used_by"]) == (
        "IIIb", "IIIa", "IIIb", "IIIa", "first",
    )  # fmt: skip
    assert stented["therapies"] == "stent_placed (general)"
    assert stented["rule"] == "an intervention under general anaesthesia"
    assert (stented["in_30"], stented["deciding"], stented["rule_version"]) == ("yes", "stent_placed", "cd-therapy-1")
    (outside,) = [line for line in events if line["not_counted"]]
    assert (outside["what"], outside["not_counted"]) == ("fever", "its operation is not counted here")


def test_cases_hold_the_components_of_infection_when_it_is_asked_for(location: str, tmp_path: Path):
    target = tmp_path / "cases.csv"
    assert run("--registry", location, "--show", "infection", "--cases", str(target)).exit_code == 0
    lines = list(csv.DictReader(io.StringIO(target.read_text())))
    operations = [line for line in lines if line["line"] == "operation"]
    assert len(operations) == 8
    assert {line["infection_window_days"] for line in operations} == {"30"}


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_figure_is_written_the_same_each_time(location: str, tmp_path: Path, kind: str):
    targets = [tmp_path / f"{name}.{kind}" for name in ("one", "two")]
    for target in targets:
        asked = ("--by", "operator", "--days", "30,90", "--figure", str(target))
        assert run("--registry", location, *asked).exit_code == 0
    assert targets[0].read_bytes() == targets[1].read_bytes()
    assert targets[0].stat().st_size > 5000


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--days", "60"), "--days '60' is not known; choose one or more of 30, 90"),
        (("--days", "30,30"), "names one thing twice"),
        (("--unit", "side"), "choose one of operation, patient"),
        (("--grades", "both"), "choose one of person, rule"),
        (("--unreviewed", "all"), "choose one or more of reviewed, lower, upper, weighted"),
        (("--show", "everything"), "choose one or more of grades, index"),
        (("--catheter", "III"), "choose one of I, II, IIIa"),
        (("--alpha-blocker", "IIIa"), "choose one of II, I"),
        (("--denominator", "protocol"), "choose one of intended, all"),
        (("--level", "95"), "no confidence level"),
        (("--interval", "wald"), "choose one of wilson"),
        (("--by", "a,b,c"), "at most 2"),
        (("--as-of", "soon"), "is no date"),
        (("--figure", "rates.pdf"), "has to end in .png or .svg"),
        (("--cases", "unit.db"), "has to end in .csv"),
        (("--replicates", "0"), "whole number from 1"),
        (("--fever-c", "100.4"), "--fever-c"),
    ],
)
def test_wrong_usage_leaves_with_status_2_and_a_sentence(location: str, arguments: tuple[str, ...], said: str):
    made = run("--registry", location, *arguments)
    assert (made.exit_code, made.stdout) == (2, "")
    assert said in " ".join(made.stderr.split())


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--by", "operater"), "nearest are: operator"),
        (("--rules", "nowhere.toml"), "nowhere.toml"),
        (("--snapshot", "never"), "never"),
        (("--cases", "nowhere/cases.csv"), "cannot be written"),
    ],
)
def test_a_request_at_fault_is_told_in_a_paragraph(
    location: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: tuple[str, ...], said: str
):
    monkeypatch.chdir(tmp_path)
    made = run("--registry", location, *arguments)
    assert made.stdout == ""
    assert isinstance(made.exception, GravelbookError)
    assert said in str(made.exception)


def test_the_units_own_choices_are_used_and_named(tmp_path: Path):
    own = registry_of(tmp_path, ward(complications_catheter="II", complications_days="90", small_number="3"))
    made = told(own)
    assert made["definition"]["local_choices"]["catheter"] == "II"
    assert made["definition"]["days"] == [90]
    assert [one["name"] for one in made["definition"]["own_defaults"]] == [
        "complications_catheter", "complications_days", "small_number",
    ]  # fmt: skip
    assert told(own, "--catheter", "I", "--days", "30")["definition"]["days"] == [30]


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("complications_catheter", "V", "complications_catheter = V"),
        ("complications_catheters", "I", "stands for no option"),
    ],
)
def test_a_setting_at_fault_is_the_registrys(tmp_path: Path, name: str, value: str, said: str):
    made = run("--registry", registry_of(tmp_path, ward(**{name: value})))
    assert made.stdout == ""
    assert isinstance(made.exception, GravelbookError)
    assert said in str(made.exception)


def test_research_leaves_out_who_refused(tmp_path: Path):
    rows = ward()
    rows.tables["patient"][0]["research_use"] = "no"
    own = registry_of(tmp_path, rows)
    grades = keyed(told(own, "--research")["rows"], "grades", "measure")
    assert grades["any complication",]["events"] == 2  # the feverish one is out
    assert keyed(told(own)["rows"], "grades", "measure")["any complication",]["events"] == 3
