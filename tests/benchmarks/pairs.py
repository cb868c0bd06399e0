"""Measurements in processes of their own, and pairs of them taken in turn."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from tempfile import TemporaryFile

ROOT = Path(__file__).parents[2]
GOOD_MANY = 5
"""Pairs, at least, from which a ratio is told."""


@dataclass(frozen=True)
class Measured:
    """One run of one process.

    seconds: as the program timed its own work, else of the whole process. peak_mb: the most memory that it, or a
    process it waited for, held at once. told: whatever else it said of itself.
    """

    seconds: float
    peak_mb: float
    told: dict[str, float] = field(default_factory=dict)


Run = Callable[[], Measured]


def measure(command: Sequence[str], *, whole: bool = False) -> Measured:
    """Run a program in a process of its own.

    Its peak is never told as less than what this process holds, which therefore must not load anything large.

    Args:
        command: the program and its arguments.
        whole: time the whole process; else its last line of output is JSON with ``seconds``, and with other numbers.

    Raises:
        RuntimeError: it failed.
    """
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    with TemporaryFile() as complaint:
        started = time.perf_counter()
        process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=complaint, cwd=ROOT)
        assert process.stdout is not None
        with process.stdout:
            said = process.stdout.read()
        _, status, used = os.wait4(process.pid, 0)
        seconds = time.perf_counter() - started
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            complaint.seek(0)
            raise RuntimeError(f"{' '.join(command)} failed:\n{complaint.read().decode(errors='replace')[-3000:]}")
    peak = used.ru_maxrss / 1024
    if whole:
        return Measured(seconds, peak)
    told = json.loads(said.splitlines()[-1])
    return Measured(told.pop("seconds"), peak, told)


def python(*arguments: object) -> list[str]:
    """A command line for this Python."""
    return [sys.executable, *map(str, arguments)]


def ours(module: str, *arguments: object) -> list[str]:
    """A command line for one of the programs in ``measured``."""
    return python("-m", f"tests.benchmarks.measured.{module}", *arguments)


def yardstick(name: str, *arguments: object) -> list[str]:
    """A command line for one of the plain scripts in ``yardsticks``."""
    return python(Path(__file__).parent / "yardsticks" / f"{name}.py", *arguments)


def in_turn(runs: dict[str, Run], pairs: int) -> dict[str, list[Measured]]:
    """Every run once, then every run again, and so on: what slows the machine for a while slows all of them."""
    found: dict[str, list[Measured]] = {name: [] for name in runs}
    for _ in range(pairs):
        for name, run in runs.items():
            found[name].append(run())
    return found


def ratio(over: list[Measured], under: list[Measured]) -> float:
    """The median of the pairs' ratios."""
    return median(a.seconds / b.seconds for a, b in zip(over, under, strict=True))
