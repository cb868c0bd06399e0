"""A registry made with its first site, and the site's time zone."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import select

from registry.schema.tables import metadata
from registry.store.registry import open_registry
from tests.command_line import gravelbook

SITE = ("--site", "LB", "--site-name", "Larkspur Bay")


def test_the_time_zone_is_entered_with_the_site(tmp_path: Path) -> None:
    place = str(tmp_path / "unit.db")
    assert gravelbook("store", "create", "--registry", place, *SITE, "--time-zone", "Europe/Lisbon").status == 0
    site = metadata.tables["site"].c
    with open_registry(place) as registry, registry.reading() as connection:
        assert connection.execute(select(site.code, site.name, site.time_zone)).one() == (
            "LB",
            "Larkspur Bay",
            "Europe/Lisbon",
        )


def test_a_time_zone_that_does_not_exist_makes_nothing(tmp_path: Path) -> None:
    said = gravelbook("store", "create", "--registry", str(tmp_path / "u.db"), *SITE, "--time-zone", "Europe/Lisboa")
    assert said.status == 1
    assert "perhaps Europe/Lisbon" in " ".join(said.err.split())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("option", [("--time-zone", "Europe/Lisbon"), ("--site-name", "Larkspur Bay")])
def test_what_is_said_of_a_site_needs_its_code(option: tuple[str, str], tmp_path: Path) -> None:
    said = gravelbook("store", "create", "--registry", str(tmp_path / "u.db"), *option)
    assert said.status == 2
    assert "--site" in said.err
    assert list(tmp_path.iterdir()) == []
