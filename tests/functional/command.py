"""Runs the command line in this process as a person would, and keeps what it said."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from registry.command_line import main


@dataclass(frozen=True)
class Said:
    """What a command printed and how it left."""

    status: int
    out: str
    err: str


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> Said:
    """Run ``gravelbook`` with arguments; it always leaves by SystemExit."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as left:
        main(list(arguments))
    printed = capsys.readouterr()
    return Said(int(left.value.code or 0), printed.out, printed.err)
