"""A time to an event asked through the command: its report, its figure, and what it does not take."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from analysis.reports.ratio.command import ratio
from registry.store.registry import create_registry

from .scoped_unit import ScopedUnit

MODEL = """name = "treated again"
[outcome]
what = "retreatment"
horizons = "90"
[exposure]
column = "sheath_to_scope_ratio"
per = 0.1
"""


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    unit = ScopedUnit()
    for pair in ((85, 100), (75, 100), (75, 120)):
        for number in range(8):
            unit.side(pair, number % 3 > 0, operator="S1", sex="female", mm=7.0)
    place = str(tmp_path_factory.mktemp("registry") / "unit.db")
    unit.rows.written(create_registry(place))
    return place


def run(location: str, folder: Path, *options: str) -> Result:
    model = folder / "times.toml"
    model.write_text(MODEL, encoding="utf-8")
    return CliRunner().invoke(ratio, [str(model), "--registry", location, *options])


def test_the_question_stands_before_any_number_and_who_is_at_risk_after_it(location: str, tmp_path: Path) -> None:
    text = run(location, tmp_path).stdout
    assert text.index("the time to an unplanned treatment of that kidney") < text.index("Who is at risk")
    assert "in the log hazard" in " ".join(text.split()) and "one a course" in text


def test_json_has_the_shape_of_every_command(location: str, tmp_path: Path) -> None:
    made = json.loads(run(location, tmp_path, "--format", "json").stdout)
    assert set(made) == {"definition", "rows"}
    assert made["definition"]["outcome"]["what"] == "retreatment"
    assert {"time_at_risk", "time_followed"} <= {row["section"] for row in made["rows"]}


@pytest.mark.parametrize("option", ["--second", "--cases", "--forest", "--calibration", "--show", "--shape"])
def test_what_a_time_does_not_take_is_refused_in_a_sentence(location: str, tmp_path: Path, option: str) -> None:
    value = {"--show": "effect", "--shape": "linear", "--second": str(tmp_path / "times.toml")}.get(
        option, str(tmp_path / ("x.csv" if option == "--cases" else "x.png"))
    )
    made = run(location, tmp_path, option, value)
    assert made.exit_code == 2, made.output
    assert f"{option} is for other outcomes than a time" in " ".join(made.output.split())
