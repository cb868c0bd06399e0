"""Runs the command line in this process as a person would, where no fixture can listen: in a whole module's set-up."""

from __future__ import annotations

import io
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass

from registry.command_line import main


@dataclass(frozen=True)
class Answered:
    """What a command printed and how it left."""

    status: int
    out: str
    err: str


def gravelbook(*arguments: str) -> Answered:
    """Run ``gravelbook`` with arguments; it always leaves by SystemExit."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            main(list(arguments))
        except SystemExit as left:
            return Answered(int(left.code or 0), out.getvalue(), err.getvalue())
    raise AssertionError("the command line came back without leaving")
