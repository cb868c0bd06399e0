"""What each style's log gives back: all that it says, nothing wrong, its planted errors found, no noise.

The bars are those that the intake has to clear: 99 of 100 recoverable values, no wrong value, 95 of 100 planted errors,
2 false alarms in 1,000 clean rows. ``python -m tests.recovery`` prints the figures for logs of any size.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from registry.store.registry import Registry, open_registry
from synthetic_cohort.logs.make_log import STYLES
from synthetic_cohort.logs.mess import Mess
from tests.recovery.rehearsal import Rehearsal, rehearse

OPERATIONS, ERRORS = 60, 21
RECOVERED, FOUND, ALARMS = 0.99, 0.95, 2.0


def _assert_recovered(made: Rehearsal) -> None:
    assert made.errors == 0, made.refusals()
    assert made.recovered.recoverable > 30 * OPERATIONS
    assert made.recovered.wrong == []
    assert made.recovered.invented == []
    assert made.recovered.share >= RECOVERED, made.recovered.missing[:5]
    alarms = [(of.rule, of.place) for of in made.found.alarms]
    assert made.found.alarms_per_thousand <= ALARMS, alarms


@pytest.mark.parametrize("style", STYLES)
def test_recovery_of_a_log_as_logs_are(style: str, registry: Registry, tmp_path: Path) -> None:
    _assert_recovered(rehearse(registry, tmp_path / "log", style, OPERATIONS, 3, Mess.usual()))


@pytest.mark.parametrize("style", STYLES)
def test_recovery_of_a_log_in_a_heavy_mess(style: str, sqlite_location: str, tmp_path: Path) -> None:
    with open_registry(sqlite_location) as registry:
        _assert_recovered(rehearse(registry, tmp_path / "log", style, OPERATIONS, 4, Mess.heavy()))


@pytest.mark.parametrize("style", STYLES)
def test_recovery_planted_errors_are_found_where_they_are(style: str, sqlite_location: str, tmp_path: Path) -> None:
    with open_registry(sqlite_location) as registry:
        made = rehearse(registry, tmp_path / "log", style, 2 * OPERATIONS, 5, Mess.usual(), ERRORS)
    assert made.found.planted == ERRORS
    missed = [(of.kind.id, of.places(made.log.pages)[:2]) for of in made.found.missed]
    assert made.found.share >= FOUND, missed
    alarms = [(of.rule, of.place) for of in made.found.alarms]
    assert made.found.alarms_per_thousand <= ALARMS, alarms
    # Of the good rows nothing is lost, and what a planted error brought in all the same is asked about.
    assert made.recovered.wrong == []
    assert made.recovered.share >= RECOVERED, made.recovered.missing[:5]
    unasked = {of.kind for of in made.let_in if not of.asked}
    assert unasked <= {of.kind.id for of in made.found.missed}, unasked
