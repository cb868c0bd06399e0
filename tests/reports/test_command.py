"""The command, end to end on a real registry: what it prints, where, and with which exit status."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from registry.command_line import main
from registry.store.registry import create_registry

from ..cohort.rows import Rows
from .clinic import clinic

Run = Callable[..., tuple[int, str, str]]


def registry_of(folder: Path, rows: Rows) -> str:
    location = str(folder / "unit.db")
    rows.written(create_registry(location))
    return location


@pytest.fixture(scope="module")
def location(tmp_path_factory: pytest.TempPathFactory) -> str:
    return registry_of(tmp_path_factory.mktemp("registry"), clinic())


@pytest.fixture
def run(location: str, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `gravelbook stone-free` and gives exit status, standard output and standard error."""

    def asked(*arguments: str, registry: str = location) -> tuple[int, str, str]:
        capsys.readouterr()
        with pytest.raises(SystemExit) as left:
            main(["stone-free", "--registry", registry, *arguments])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return asked


def rows_of(text: str) -> dict[tuple[Any, ...], dict[str, Any]]:
    rows = json.loads(text)["rows"]
    return {(*row["group"].values(), row["threshold_mm"], row["unscanned"]): row for row in rows}


def test_json_goes_to_standard_output_alone(run: Run):
    status, out, err = run("--format", "json", "--by", "operator", "--unscanned", "complete,lower,upper")
    assert (status, err) == (0, "")
    rows = rows_of(out)
    first = rows["S1", 2, "complete"]
    # Five due: clear, clear, 3 mm, 8 mm, never scanned; the late operation is not due.
    assert (first["eligible"], first["n"], first["stone_free"], first["unknown"], first["not_due"]) == (5, 4, 2, 1, 1)
    assert rows["S1", 4, "complete"]["stone_free"] == 3
    assert rows["S1", 4, "upper"]["stone_free"] == 4
    assert first["modalities"] == {"ct": 4, "none": 1}
    second = rows["S2", 0, "complete"]
    assert (second["n"], second["stone_free"], second["failed_inadequate"], second["n_adequate"]) == (2, 1, 1, 1)


def test_the_definition_names_date_snapshot_and_flow(run: Run):
    told = json.loads(run("--format", "json")[1])["definition"]
    assert told["as_of"] == "2025-02-04"
    assert len(told["snapshot"]["content_hash"]) == 64
    assert told["decided"]["0"]["out_intent"] == 1
    assert told["own_defaults"] == []


def test_text_prints_the_definition_first(run: Run):
    status, out, err = run("--by", "largest_mm:10,20")
    assert (status, err) == (0, "")
    assert out.startswith("Stone-free treated sides, by largest_mm, as of 2025-02-04")
    assert out.index("threshold") < out.index("eligible")
    for group in ("under 10 mm", "10 to under 20 mm", "20 mm and over", "not recorded"):
        assert group in out


def test_cases_equal_the_rows(run: Run, tmp_path: Path):
    target = tmp_path / "cases.csv"
    status, out, err = run("--format", "json", "--by", "operator", "--cases", str(target))
    assert status == 0
    assert "not to leave the unit" in err
    cases = list(csv.DictReader(io.StringIO(target.read_text())))
    counted = Counter((case["group"], float(case["threshold_mm"]), case["status"]) for case in cases)
    for (group, threshold, _), row in rows_of(out).items():
        assert counted[group, threshold, "free"] == row["stone_free"]
        assert counted[group, threshold, "free"] + counted[group, threshold, "failed"] == row["n"]
        assert counted[group, threshold, "unknown"] == row["unknown"]
        assert counted[group, threshold, "not_due"] == row["not_due"]
    seen = next(case for case in cases if case["status"] == "free")
    assert (seen["examined_on"], seen["modality"], seen["slice_mm"], seen["operated_on"]) == (
        "2024-01-31",
        "ct",
        "1.0",
        "2024-01-01",
    )
    assert target.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_a_figure_is_written_the_same_each_time(run: Run, tmp_path: Path, kind: str):
    targets = [tmp_path / f"{name}.{kind}" for name in ("one", "two")]
    for target in targets:
        assert run("--by", "operator", "--figure", str(target))[0] == 0
    assert targets[0].read_bytes() == targets[1].read_bytes()


def test_a_comparison_over_strata(run: Run):
    asked = ("--compare", "technique=flexible,mini_percutaneous", "--strata", "largest_mm:20", "--replicates", "20")
    status, out, _ = run("--format", "json", "--threshold", "2", *asked)
    assert status == 0
    (found,) = json.loads(out)["comparisons"]
    assert found["crude"]["difference"]["estimate"] == 2 / 4 - 1 / 2
    assert set(found["strata_left_out"]) == {"under 20 mm", "20 mm and over", "not recorded"}


@pytest.mark.parametrize(
    "arguments",
    [
        ("--window", "90:14"),
        ("--threshold", "two"),
        ("--unit", "kidney"),
        ("--sessions", "planned"),
        ("--level", "95"),
        ("--by", "a,b,c"),
        ("--as-of", "yesterday"),
        ("--figure", "rates.pdf"),
        ("--adequacy", "nothing"),
        ("--strata", "operator"),
        ("--interval", "wald"),
        ("--no-such-option",),
        ("--format", "xml"),
    ],
)
def test_wrong_usage_leaves_with_status_2_and_no_traceback(run: Run, arguments: tuple[str, ...]):
    status, out, err = run(*arguments)
    assert (status, out) == (2, "")
    assert err.strip()
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--by", "operater"), "nearest are: operator"),
        (("--by", "operator:10"), "holds no numbers"),
        (("--compare", "operator=S1,S9"), "What occurs is: S1, S2"),
        (("--rules", "nowhere.toml"), "nowhere.toml"),
        (("--snapshot", "never"), "never"),
        (("--figure", "nowhere/rates.svg"), "cannot be written"),
        (("--cases", "nowhere/cases.csv"), "cannot be written"),
    ],
)
def test_a_request_at_fault_leaves_with_status_1_and_a_paragraph(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: tuple[str, ...], said: str
):
    monkeypatch.chdir(tmp_path)
    status, out, err = run(*arguments)
    assert (status, out) == (1, "")
    assert said in " ".join(err.split())
    assert list(tmp_path.iterdir()) == []


def test_a_registry_that_is_not_there_is_said(run: Run, tmp_path: Path):
    status, out, err = run(registry=str(tmp_path / "none.db"))
    assert (status, out) == (1, "")
    assert "There is no registry" in err


def test_the_units_own_defaults_are_used_and_named(run: Run, tmp_path: Path):
    own = registry_of(tmp_path, clinic(stone_free_window="20:60", small_number="3"))
    out = run("--by", "operator", registry=own)[1]
    assert "window 20:60: the unit's own default since 2024-01-01." in out
    assert "small number 3: the unit's own default since 2024-01-01." in out
    assert "day 20 to 60" in out
    told = json.loads(run("--format", "json", "--window", "14:90", registry=own)[1])["definition"]
    assert told["window"] == [14, 90]
    assert [one["name"] for one in told["own_defaults"]] == ["small_number"]


def test_a_setting_that_cannot_be_read_is_the_registrys_fault(run: Run, tmp_path: Path):
    own = registry_of(tmp_path, clinic(stone_free_window="soon"))
    status, _, err = run(registry=own)
    assert status == 1
    assert "stone_free_window = soon" in " ".join(err.split())


def test_nobody_in_the_cohort_gives_nulls_and_status_0(run: Run, tmp_path: Path):
    rules = tmp_path / "rules.toml"
    rules.write_text('[[exclude]]\ncolumn = "operator"\namong = ["S1", "S2"]\nreason = "everybody"\n')
    status, out, _ = run("--format", "json", "--rules", str(rules))
    assert status == 0
    row = rows_of(out)[0, "complete"]
    assert (row["eligible"], row["n"], row["rate"]) == (0, 0, None)
    assert run("--rules", str(rules))[0] == 0


def test_help_imports_nothing_heavy():
    code = (
        "import sys; from registry.command_line import gravelbook\n"
        "try: gravelbook.main(['stone-free', '--help'], prog_name='gravelbook')\n"
        "except SystemExit: pass\n"
        "print([name for name in ('pandas', 'numpy', 'sqlalchemy', 'matplotlib', 'duckdb') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert "--threshold" in done.stdout
