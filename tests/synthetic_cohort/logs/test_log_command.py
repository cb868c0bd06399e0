"""``gravelbook synth --log`` writes a log with everything beside it, and refuses what does not go together."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from synthetic_cohort.commands import synth
from synthetic_cohort.logs.make_log import STYLES


def _run(*arguments: object) -> Result:
    return CliRunner().invoke(synth, [str(a) for a in arguments])


@pytest.mark.parametrize("style", STYLES)
def test_synth_log_writes_files_mapping_truth_and_errors(style: str, tmp_path: Path) -> None:
    folder = tmp_path / "new" / "log"
    done = _run("--log", style, "--operations", 40, "--seed", 2, "--errors", 5, "--folder", folder)
    assert done.exit_code == 0, done.output
    files = [name for table in STYLES[style].tables for name in [table.file]]
    assert {path.name for path in folder.iterdir()} == {*files, "mapping.toml", "truth.json", "planted.json"}
    assert all(name in done.output for name in files)
    assert "5 planted errors" in done.output
    assert len(json.loads((folder / "planted.json").read_text(encoding="utf-8"))) == 5


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--log", "tabs"], "give --folder"),
        (["--log", "tabs", "--folder", "x", "--output", "x.xlsx"], "no --output"),
        (["--log", "tabs", "--folder", "x", "--awkward"], "goes without"),
        (["--folder", "x", "--output", "x.xlsx"], "belong to a log"),
        ([], "--output"),
    ],
)
def test_synth_refuses_what_does_not_go_together(arguments: list[str], said: str) -> None:
    done = _run(*arguments)
    assert done.exit_code == 2
    assert said in done.output


def test_synth_log_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("a file", encoding="utf-8")
    done = _run("--log", "tabs", "--operations", 5, "--folder", tmp_path / "taken" / "log")
    assert done.exit_code == 1
    assert "cannot be written" in done.output
    assert "Traceback" not in done.output
