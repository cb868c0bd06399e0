"""Runs `gravelbook fit` as the command line does, and a small unit to ask."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

import registry.command_line as shell
from analysis.reports.fit.command import fit

from ...cohort.rows import Rows


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of the command."""
    capsys.readouterr()
    with _only_fit(), pytest.raises(SystemExit) as left:
        shell.main(["fit", *arguments])
    said = capsys.readouterr()
    return int(left.value.code or 0), said.out, said.err


@contextmanager
def _only_fit() -> Iterator[None]:
    """The real shell with the command in it, whether or not it is registered among the installed ones yet."""
    real = shell.CommandFinder.get_command

    def get_command(self: shell.CommandFinder, context: Any, name: str) -> Any:
        return fit if name == "fit" else real(self, context, name)

    shell.CommandFinder.get_command = get_command  # type: ignore[method-assign]
    try:
        yield
    finally:
        shell.CommandFinder.get_command = real  # type: ignore[method-assign]


def unit() -> Rows:
    """Nine sides: 7.5 in 10 by S1 (four, one with two pairs) and S2 (one); 9 in 12 by S1; an impossible pair; no sheath
    with a scope; a shock-wave side. Irrigation and suction said of the first six.
    """
    rows = Rows()
    first, second = rows.operator("S1"), rows.operator("S2")
    scope, thick, ten, twelve = rows.scope(75), rows.scope(90), rows.sheath(100, 120), rows.sheath(120, 140)
    small = rows.sheath(80)
    said = [
        {"irrigation_drive": "gravity", "irrigation_height_cm": 60, "suction": "none"},
        {"irrigation_drive": "gravity", "irrigation_height_cm": 80, "suction": "none"},
        {"irrigation_drive": "gravity", "suction": "through_sheath", "suction_control": "at_sheath"},
        {"irrigation_drive": "automatic_pump", "irrigation_set_pressure_mmhg": 90, "suction": "through_sheath"},
        {"irrigation_drive": "hand_pump", "pressure_mean_cmh2o": 30.0, "visibility": "good"},
        {"irrigation_drive": "hand_pump", "hand_flushes": "yes"},
    ]
    fitted = [(first, scope, ten)] * 4 + [(second, scope, ten), (first, thick, twelve), (second, thick, small)]
    for at, (operator, own, sheath) in enumerate(fitted):
        side = rows.side(**(said[at] if at < len(said) else {}))
        rows.operated(side, operator)
        if at == 3:
            rows.used(side, twelve, "exchanged")
            rows.used(side, own)
        rows.used(side, sheath)
        rows.used(side, own)
    rows.used(rows.side(), scope)
    rows.side(techniques=("shock_wave",))
    return rows
