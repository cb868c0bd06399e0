"""``gravelbook synth`` writes a workbook and its truth, and says what it did."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from python_calamine import CalamineWorkbook

from synthetic_cohort.commands import synth
from synthetic_cohort.truth import estimands


def run(*arguments):
    return CliRunner().invoke(synth, [str(a) for a in arguments])


def test_it_writes_a_workbook_and_the_truth(tmp_path):
    book, truth = tmp_path / "c.xlsx", tmp_path / "t.json"
    done = run("--operations", 50, "--seed", 4, "--missing", "not_random", "--output", book, "--truth", truth)
    assert done.exit_code == 0, done.output
    assert "of 50 operations scanned" in done.output
    assert "Scans missing: not random" in done.output
    told = json.loads(truth.read_text(encoding="utf-8"))
    assert [true["name"] for true in told["true_values"]] == list(estimands())
    assert {row["name"]: row["value"] for row in told["parameters"]}["missingness"] == "not_random"
    assert len(CalamineWorkbook.from_path(book).get_sheet_by_name("operation").to_python()) >= 51


def test_the_same_seed_writes_the_same_bytes(tmp_path):
    for name in ("a.xlsx", "b.xlsx"):
        assert run("--operations", 20, "--seed", 9, "--output", tmp_path / name).exit_code == 0
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_wrong_parameters_are_said_in_one_paragraph(tmp_path):
    wrong = tmp_path / "p.toml"
    wrong.write_text("luck = 3", encoding="utf-8")
    done = run("--output", tmp_path / "c.xlsx", "--parameters", wrong)
    assert done.exit_code == 1
    assert "no parameter luck" in done.output
    assert "Traceback" not in done.output
    assert not (tmp_path / "c.xlsx").exists()


@pytest.mark.parametrize("arguments", [("--operations", 0), ("--missing", "never"), ()])
def test_wrong_usage_is_told_apart(tmp_path, arguments):
    output = ("--output", tmp_path / "c.xlsx") if arguments else ()
    assert run(*arguments, *output).exit_code == 2


def test_help_explains_every_option():
    done = run("--help")
    assert done.exit_code == 0
    for option in synth.params:
        assert option.opts[0] in done.output
