"""How far a load has come: a bar on a terminal's standard error, nothing on a pipe."""

from __future__ import annotations

import os
import pty
import subprocess
import sys
from pathlib import Path

from registry.intake.load import load_file
from registry.store.registry import Registry
from tests.intake.books import CASE, IDENTITY, write_book

ROOT = Path(__file__).parents[2]


def command(registry: Registry, *words: str) -> list[str]:
    start = "import sys; from registry.command_line import main; main(sys.argv[1:])"
    return [sys.executable, "-c", start, "intake", *words, "--registry", str(registry.location.file)]


def test_every_stage_is_told_to_its_end(registry: Registry, tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    path = write_book(tmp_path / "b.xlsx", {**CASE, **IDENTITY})
    loaded = load_file(registry, path, by="test", progress=lambda *what: told.append(what))
    stages = list(dict.fromkeys(stage for stage, _, _ in told))
    assert stages == ["Reading", "Checking", "Writing"]
    for stage in stages:
        steps = [(done, total) for what, done, total in told if what == stage]
        assert steps == sorted(steps)
        assert steps[-1][0] == steps[-1][1] > 0
    assert told[-1][2] == sum(loaded.new.values())


def test_a_terminal_shows_bars_on_standard_error(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", CASE)
    ours, theirs = pty.openpty()
    try:
        ran = subprocess.run(
            command(registry, "load", str(book)),
            stdout=subprocess.PIPE,
            stderr=theirs,
            cwd=tmp_path,
            env={**os.environ, "PYTHONPATH": str(ROOT), "TERM": "xterm"},
            check=False,
        )
        os.close(theirs)
        shown = os.read(ours, 1 << 16).decode()
    finally:
        os.close(ours)
    assert ran.returncode == 0
    assert [stage for stage in ("Reading", "Checking", "Writing") if stage in shown] == [
        "Reading",
        "Checking",
        "Writing",
    ]
    assert shown.count("100%") >= 3
    assert b"Reading" not in ran.stdout


def test_a_pipe_gets_nothing_of_it(registry: Registry, tmp_path: Path) -> None:
    book = write_book(tmp_path / "b.xlsx", CASE)
    ran = subprocess.run(
        command(registry, "load", str(book), "--format", "json"),
        capture_output=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert ran.stdout.startswith(b"{")
