"""A proposal as it stands, checked and loaded: what it proposes is read without an error, and nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command_line import gravelbook
from tests.intake.logs.proposals.styles import COMPOSITE, CONTINENTAL, REPEATED, ROWS, THEATRE, Style
from tests.intake.logs.proposals.unseen import AUDIT, SIDES


@pytest.fixture
def unit(tmp_path: Path) -> str:
    """A registry with one site."""
    location = str(tmp_path / "gravelbook.db")
    words = ("--site", "LB", "--site-name", "Larkspur Bay Stone Unit", "--time-zone", "Europe/Lisbon")
    assert gravelbook("store", "create", "--registry", location, *words).status == 0
    return location


@pytest.mark.parametrize("style", [THEATRE, CONTINENTAL, COMPOSITE, REPEATED, AUDIT, SIDES], ids=lambda s: s.name)
def test_a_proposal_is_checked_without_an_error_and_names_what_is_left(style: Style, unit: str, tmp_path: Path) -> None:
    log, mapping = style.write(tmp_path), tmp_path / "m.toml"
    assert gravelbook("intake", "map", str(log), "--output", str(mapping)).status == 0
    checked = gravelbook("intake", "check", str(log), "--mapping", str(mapping), "--registry", unit)
    assert (checked.status, "0 errors" in checked.out) == (0, True), checked.out + checked.err
    left = [heading for heading, right in style.truth.items() if not right]
    unnamed = [line for line in checked.out.splitlines() if "The mapping does not name this column" in line]
    assert len(unnamed) == len(left)


def test_the_theatre_book_is_loaded_by_its_proposal(unit: str, tmp_path: Path) -> None:
    log, mapping = THEATRE.write(tmp_path), tmp_path / "m.toml"
    gravelbook("intake", "map", str(log), "--output", str(mapping))
    loaded = gravelbook("intake", "load", str(log), "--mapping", str(mapping), "--registry", unit)
    assert loaded.status == 0, loaded.out + loaded.err
    for table in ("patient", "operation", "stone", "equipment_use", "examination", "reading"):
        assert f"{table} {ROWS}" in loaded.out
    assert f"operation_operator {2 * ROWS}" in loaded.out  # the surgeon and the assistant
