"""The command, end to end on a real registry: what it prints, writes and refuses, and its exit status."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from analysis.reports.ratio.command import ratio
from analysis.reports.ratio.model_file import DEFAULT, read_model
from registry.schema.errors import GravelbookError
from registry.store.registry import create_registry

from .scoped_unit import ScopedUnit, model_text, written

PAIRS = ((85, 100), (75, 100), (75, 110), (75, 120))


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    unit = ScopedUnit()
    for at, pair in enumerate(PAIRS):
        for number in range(30):
            free = None if number > 27 else number % 10 > 4 - at
            sex = "female" if number % 2 else "male"
            unit.side(pair, free, operator=f"S{number % 6}", sex=sex, mm=6.0 + number % 5)
    place = str(tmp_path_factory.mktemp("registry") / "unit.db")
    unit.rows.written(create_registry(place))
    return place


@pytest.fixture
def model(tmp_path: Path) -> str:
    exposure = 'column = "sheath_to_scope_ratio"\nper = 0.1\ncontrast = [1.6, 1.1765]'
    return str(written(tmp_path, model_text(exposure=exposure, adjust=('column = "sex"', 'column = "cumulative_mm"'))))


def run(location: str, *arguments: str) -> Result:
    return CliRunner().invoke(ratio, ["--registry", location, *arguments])


def refused(result: Result) -> str:
    """The paragraph of a refusal: status 1, nothing on standard output."""
    assert isinstance(result.exception, GravelbookError)
    assert result.exit_code == 1
    assert result.stdout == ""
    return str(result.exception)


def test_the_question_is_printed_before_any_number_and_support_before_results(location: str, model: str) -> None:
    said = run(location, model).stdout
    order = [
        "does being stone-free", "held alike", "Who is in the model", "What supports the answer", "Operators and",
        "Are the rows alike", "What goes with", "Adjusted share", "How much of the variance", "Checks of the model",
        "Sensitivity", "Who is counted",
    ]  # fmt: skip
    places = [said.index(part) for part in order]
    assert places == sorted(places)
    assert "papers print its reciprocal" in " ".join(said.split())


def test_json_holds_what_the_result_was_made_from(location: str, model: str) -> None:
    result = run(location, model, "--format", "json", "--seed", "7")
    assert (result.exit_code, result.stderr) == (0, "")
    held = json.loads(result.stdout)["definition"]
    assert held["research"] is True
    assert set(held["software"]) == {"python", "numpy", "scipy", "pandas", "statsmodels", "formulaic"}
    (asked,) = held["models"]
    assert asked["seed"] == 7
    adjusted = asked["adjusted"]
    assert adjusted["formula"] == "stone_free ~ 1 + per(sheath_to_scope_ratio, 0.1) + C(sex) + cumulative_mm"
    assert (adjusted["n"], adjusted["clusters"]) == (112, 112)
    assert adjusted["levels"] == {"sex": ["female", "male"]}
    assert adjusted["covariance"] == "cluster-robust, times G/(G-1)"


def test_every_row_carries_estimate_limits_n_and_unknown(location: str, model: str) -> None:
    rows = json.loads(run(location, model, "--format", "json").stdout)["rows"]
    for row in rows:
        if row["section"] in ("effect", "risk", "contrast", "operators", "checks", "tests"):
            assert {"estimate", "low", "high", "n", "unknown"} <= set(row), row["section"]
    (risk, *_) = [row for row in rows if row["section"] == "risk"]
    assert risk["unknown"] == 8  # two at each ratio were never scanned


def test_the_same_question_gives_the_same_bytes(location: str, model: str) -> None:
    first, second = (run(location, model, "--format", "json", "--replicates", "40").stdout for _ in range(2))
    assert first == second
    assert first != run(location, model, "--format", "json", "--replicates", "40", "--seed", "2").stdout


def test_csv_is_one_table_with_the_name_of_the_section_first(location: str, model: str) -> None:
    text = run(location, model, "--format", "csv", "--show", "effect").stdout
    rows = list(csv.DictReader(io.StringIO(text)))
    assert list(dict.fromkeys(row["section"] for row in rows)) == ["effect", "tests", "checks"]
    effects = {row["model"] for row in rows if row["section"] == "effect"}
    assert effects == {"crude, all rows", "crude, the model's rows", "adjusted"}


def test_checks_come_with_every_estimate(location: str, model: str) -> None:
    assert "Checks of the model" in run(location, model, "--show", "risk").stdout
    assert "Checks of the model" not in run(location, model, "--show", "support").stdout


@pytest.mark.parametrize("shape", ["linear", "spline", "bands"])
def test_shapes_and_figures(location: str, model: str, tmp_path: Path, shape: str) -> None:
    figure, forest = tmp_path / "risk.png", tmp_path / "forest.svg"
    calibration = tmp_path / "calibration.png"
    files = ["--figure", str(figure), "--forest", str(forest), "--calibration", str(calibration)]
    result = run(location, model, "--shape", shape, *files, *(["--contrast", "1.6,1.1765"] if shape == "bands" else []))
    assert result.exit_code == 0, result.exception
    assert figure.read_bytes().startswith(b"\x89PNG")
    assert calibration.read_bytes().startswith(b"\x89PNG")
    assert "odds ratio" in forest.read_text(encoding="utf-8")
    if shape == "bands":
        assert "They are not linear in the sheath-to-scope ratio" in result.stdout
        assert "0.85 and over against under 0.75" in result.stdout
    if shape == "spline":
        assert "is not a straight line" in result.stdout


def test_two_outcomes_share_the_axis(location: str, model: str, tmp_path: Path) -> None:
    exposure = 'column = "sheath_to_scope_ratio"\nper = 0.1'
    outcome = 'what = "column"\ncolumn = "bilateral"'
    other = written(tmp_path, model_text(outcome=outcome, exposure=exposure), "other.toml")
    assert "have the same outcome" in refused(run(location, model, "--second", str(other)))  # nobody is bilateral
    other = written(
        tmp_path, model_text(outcome='what = "column"\ncolumn = "pre_stented"', exposure=exposure), "b.toml"
    )
    assert "nothing to answer from" in refused(run(location, model, "--second", str(other)))  # nobody recorded it
    figure = tmp_path / "both.svg"
    strict = model_text(outcome='what = "stone_free"\nthreshold = "10"', exposure=exposure)
    assert "have the same outcome" in refused(
        run(location, model, "--second", str(written(tmp_path, strict, "c.toml")))
    )
    second = model_text(outcome='what = "stone_free"\nthreshold = "4"', exposure=exposure)
    result = run(location, model, "--second", str(written(tmp_path, second, "d.toml")), "--figure", str(figure))
    assert result.exit_code == 0, result.exception
    assert "second question" in result.stdout
    assert "Second outcome. What goes with" in result.stdout
    assert "4 mm" in figure.read_text(encoding="utf-8")


def test_a_second_model_on_another_exposure_is_wrong_usage(location: str, model: str, tmp_path: Path) -> None:
    other = written(tmp_path, model_text(exposure='column = "age_years"'), "other.toml")
    result = run(location, model, "--second", str(other))
    assert result.exit_code == 2
    assert "two outcomes share an axis only on one exposure" in " ".join(result.stderr.split())


def test_cases_say_who_is_in_no_model_and_why(location: str, model: str, tmp_path: Path) -> None:
    cases = tmp_path / "cases.csv"
    result = run(location, model, "--cases", str(cases))
    assert "patients' data" in result.stderr
    held = list(csv.DictReader(io.StringIO(cases.read_text(encoding="utf-8"))))
    assert len(held) == 120
    reasons = [row["in_model"] for row in held]
    assert reasons.count("yes") == 112
    assert reasons.count("outcome unknown") == 8
    assert cases.stat().st_mode & 0o077 == 0


def test_a_refusal_is_one_paragraph_without_number_and_leaves_no_file(
    location: str, model: str, tmp_path: Path
) -> None:
    figure, cases = tmp_path / "risk.png", tmp_path / "cases.csv"
    result = run(location, model, "--contrast", "2.4,1.2", "--figure", str(figure), "--cases", str(cases))
    said = refused(result)
    assert "2.4 lies outside what was observed, 1.176 to 1.6" in said
    assert "\n" not in said
    assert not figure.exists()
    assert not cases.exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--shape", "curved"), "--shape 'curved' is not known; choose one of linear, spline, bands."),
        (("--knots", "2"), "--knots '2' has to be a whole number from 3 to 7."),
        (("--knots", "4", "--shape", "linear"), "--knots belong to a spline"),
        (("--contrast", "1.4"), "two different values with a comma between them"),
        (("--contrast", "1.4,1.4"), "two different values with a comma between them"),
        (("--contrast", "nan,1.4"), "is no value of an exposure"),
        (("--seed", "-1"), "--seed '-1' has to be a whole number"),
        (("--replicates", "3"), "--replicates '3' has to be a whole number from 20"),
        (("--show", "everything"), "--show 'everything' is not known"),
        (("--figure", "risk.pdf"), "--figure 'risk.pdf' has to end in .png or .svg"),
        (("--forest", ""), "--forest is empty"),
        (("--cases", "cases.xlsx"), "has to end in .csv"),
        (("--as-of", "soon"), "--as-of 'soon' is no date"),
        (("--show", "support", "--figure", "risk.png"), "draws estimates, and --show support asks for none"),
    ],
)
def test_what_cannot_be_read_leaves_with_status_2(arguments: tuple[str, ...], said: str) -> None:
    result = CliRunner().invoke(ratio, ["--registry", "none.db", *arguments])
    assert result.exit_code == 2
    assert said in " ".join(result.stderr.split())


def test_the_default_model_is_written_as_a_file_and_reads_back(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    result = CliRunner().invoke(ratio, ["--write-model", str(path)])
    assert result.exit_code == 0
    assert path.read_bytes() == DEFAULT.read_bytes()
    assert read_model(path) == read_model()


def test_the_default_model_asks_what_was_agreed() -> None:
    model = read_model()
    assert (model.exposure.column, model.exposure.per) == ("sheath_to_scope_ratio", 0.1)
    assert [one.term.column for one in model.adjusters] == [
        "age_years", "sex", "cumulative_mm", "density_hu", "any_lower_pole", "hydronephrosis", "pre_stented",
        "positive_culture_before", "suction", "operator_prior_cases", "year",
    ]  # fmt: skip


def test_an_exact_table_has_no_figure(location: str, tmp_path: Path) -> None:
    exposure = 'column = "sheath_to_scope_ratio"\nshape = "bands"'
    path = str(written(tmp_path, model_text(exposure=exposure, rest='[fit]\nmethod = "exact"')))
    assert "exact tests of the crude table" in run(location, path).stdout
    assert "an exact test has none" in refused(run(location, path, "--figure", str(tmp_path / "a.png")))
