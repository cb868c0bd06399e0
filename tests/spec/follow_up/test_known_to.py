"""Up to which day stone events are known: a contact that names a day, else the latest contact, else the last date."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.spec.follow_up.unit_story import UnitStory


@pytest.fixture
def story() -> UnitStory:
    return UnitStory()


def test_a_contact_that_names_a_day_settles_to_that_day_whatever_came_later(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.contact(unit, 400, settles=300)
    story.contact(unit, 900)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"], row["end_basis"]) == (300, 0, "stone events known to")
    assert row["missing"] == ""


def test_without_a_named_day_the_latest_contact_settles(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.contact(unit, 400)
    story.contact(unit, 500)
    story.image(unit, 700)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["end_basis"]) == (500, "latest contact")
    assert row["missing"] == "contact that names a day for stone events"


def test_without_any_contact_the_last_known_date_does(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.image(unit, 700)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["end_basis"]) == (700, "last known date")
    assert "any contact" in row["missing"]


def test_nothing_after_as_of_is_read(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.contact(unit, 400, settles=400)
    story.contact(unit, 90, settles=80)
    story.later(unit, 350)
    row = story.time(tmp_path / "s", "retreatment", as_of=100)
    assert (row["time"], row["cause"]) == (80, 0)


def test_a_day_named_beyond_as_of_is_cut_there(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.contact(unit, 90, settles=200)
    assert story.time(tmp_path / "s", "retreatment", as_of=100)["time"] == 100


def test_nobody_is_followed_for_no_time_at_all(story: UnitStory, tmp_path: Path) -> None:
    """Only the operation is known: follow-up is of length 0, and the course is named rather than given a number."""
    story.course()
    row = story.time(tmp_path / "s", "retreatment")
    assert row["state"] == "no_follow_up"
    assert row["missing"].endswith("follow-up")
    assert math.isnan(row["time"])


def test_follow_up_that_ended_before_the_operation_is_named_too(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course(on=100)
    story.contact(unit, 50, settles=40)
    assert story.time(tmp_path / "s", "retreatment")["state"] == "no_follow_up"


def test_taking_every_event_as_known_follows_to_as_of(story: UnitStory, tmp_path: Path) -> None:
    story.course()
    row = story.time(tmp_path / "s", "retreatment", censoring="as_of", as_of=730)
    assert (row["time"], row["cause"], row["end_basis"]) == (730, 0, "as-of date")
