"""Every benchmark runs, at a size that says nothing of speed: no time is looked at here."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from tests.benchmarks.__main__ import BENCHMARKS, main
from tests.benchmarks.pairs import Measured, measure, python
from tests.benchmarks.regression import errors_apart, same_numbers
from tests.benchmarks.results import Line, closing, table

SMALL: dict[str, dict[str, Any]] = {
    "start_up": {},
    "rates": {"rows": 2_000},
    "unit_size": {"operations": 30},
    "cohort": {"operations": 60, "unit": 30},
    "loading": {"operations": 60, "unit": 30},
    "reading": {"operations": 30, "rows": 40},
    "quality": {"sizes": (30,), "unit": 30},
    "waiting": {"operations": 30},
    "incidence": {"rows": 2_000, "fewer": 500},
    # which looks itself whether the numbers are those of its yardsticks
    "regression": {"rows": 3_000, "fewer": 2_000, "replicates": 60, "refits": 4, "imputations": 6, "cycles": 2},
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the benchmarks of this module keep what they make."""
    return tmp_path_factory.mktemp("benchmarks")


def test_each_benchmark_has_a_small_size() -> None:
    assert set(SMALL) == set(BENCHMARKS)


@pytest.mark.parametrize("name", SMALL)
def test_a_benchmark_runs(name: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("GRAVELBOOK_SNAPSHOTS", raising=False)
    lines = BENCHMARKS[name](folder, pairs=1, **SMALL[name])
    assert len(lines) >= (2 if name == "quality" else 3)  # two lines for each of its sizes
    assert all(run.seconds > 0 and run.peak_mb > 0 for line in lines for run in line.runs)
    shown = table(lines).splitlines()[1:]
    assert all(text.startswith(line.what) for line, text in zip(lines, shown, strict=True))
    assert "take at least 5" in closing(lines)


def test_a_program_that_fails_is_not_measured() -> None:
    with pytest.raises(RuntimeError, match="no such thing"):
        measure(python("-c", "raise SystemExit('no such thing')"))


def test_the_ratio_is_the_median_of_the_pairs() -> None:
    slow_yardstick = [Measured(seconds, 1.0) for seconds in (1.0, 2.0, 10.0)]
    line = Line("x", [Measured(seconds, 1.0) for seconds in (2.0, 2.0, 30.0)], slow_yardstick, goal=2.0)
    assert line.ratio == 2.0  # of 2/1, 2/2 and 30/10
    assert line.met is True
    assert Line("x", line.runs, slow_yardstick, goal=1.9).met is False
    assert Line("x", line.runs, slow_yardstick).met is None
    assert Line("x", line.runs, limit_s=2.0).met is True


def test_times_of_other_numbers_are_no_ratio() -> None:
    def told(*numbers: float, error: float = 0.1) -> list[Measured]:
        by_name = {f"b{at}": value for at, value in enumerate(numbers)}
        return [Measured(1.0, 1.0, {**by_name, **{f"e{at}": error for at in range(len(numbers))}})]

    assert same_numbers(told(1.0, 200.0), told(1.0, 200.0 + 1e-7), "b") == pytest.approx(5e-10)
    assert errors_apart(told(1.0, 2.0), told(1.04, 2.0), 20) == pytest.approx(0.4)
    for other, said in ((told(1.0, 200.1), "not the same work"), (told(1.0), "1 there"), (told(1.0, math.nan), "nan")):
        with pytest.raises(ValueError, match=said):
            same_numbers(told(1.0, 200.0), other, "b")
    for other, said in (
        (told(1.06, 2.0), "0.60 standard errors apart"),
        (told(1.0), "1 there"),
        (told(1, math.nan), "nan"),
    ):
        with pytest.raises(ValueError, match=said):
            errors_apart(told(1.0, 2.0), other, 20)


def test_an_unknown_name_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["speed"])
    assert left.value.code == 2
    assert "there is no speed; choose from start_up" in capsys.readouterr().err
