"""Retreatment: unplanned stone treatment of that kidney after the planned end, from the index or from that end."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.spec.follow_up.unit_story import UnitStory

END = 1000


@pytest.fixture
def story() -> UnitStory:
    return UnitStory()


def followed(story: UnitStory, **course: object) -> int:
    unit = story.course(**course)  # type: ignore[arg-type]
    story.contact(unit, END, settles=END)
    return unit


def test_treatment_elsewhere_is_an_event(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.later(unit, 400)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"], row["what"]) == (400, 1, "unplanned")


def test_a_new_course_here_is_an_event_of_the_course_before(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.course(300, unit=unit)
    first, second = story.times(tmp_path / "s", "retreatment").to_dict("records")
    assert (first["time"], first["cause"], first["what"]) == (300, 1, "new course")
    assert (second["time"], second["cause"]) == (END - 300, 0)


def test_treatment_of_the_other_kidney_is_none(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    other = story.rows.unit(story.patient(unit), "right")
    story.course(300, unit=other)
    assert story.time(tmp_path / "s", "retreatment")["cause"] == 0


def test_a_planned_stage_is_none_and_a_treatment_after_it_is(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.stage(unit, 60)
    story.later(unit, 500)
    from_index = story.time(tmp_path / "index", "retreatment")
    from_end = story.time(tmp_path / "end", "retreatment", origin="planned_end")
    assert (from_index["time"], from_index["cause"]) == (500, 1)
    assert (from_end["time"], from_end["cause"]) == (440, 1)


def test_an_unplanned_treatment_before_the_planned_end_is_none(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.later(unit, 20)
    story.stage(unit, 60)
    assert story.time(tmp_path / "s", "retreatment")["cause"] == 0


def test_auxiliary_treatment_is_an_event_unless_it_is_chosen_not_to_be(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.later(unit, 20)
    row = story.time(tmp_path / "event", "retreatment")
    assert (row["time"], row["what"]) == (20, "auxiliary")
    assert story.time(tmp_path / "ignored", "retreatment", auxiliary="ignored")["cause"] == 0


def test_what_happens_on_the_day_of_the_operation_gets_half_a_day(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.rows.side(unit, 0, number=2)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"]) == (0.5, 1)


def test_an_earlier_operation_of_that_day_is_none(story: UnitStory, tmp_path: Path) -> None:
    unit = story.rows.unit()
    story.rows.side(unit, 0, number=1)
    course = story.rows.add("course", renal_unit_id=unit)
    story.rows.side(unit, 0, number=2, course_id=course, stage_number=0)
    story.contact(unit, END, settles=END)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"]) == (END, 0)


def test_an_event_after_the_end_of_follow_up_is_marked_and_not_counted(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.contact(unit, 300, settles=300)
    story.later(unit, 400)
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"], row["event_later"]) == (300, 0, True)
    assert story.time(tmp_path / "a", "retreatment", censoring="as_of")["time"] == 400


def test_death_and_loss_of_that_kidney_compete(story: UnitStory, tmp_path: Path) -> None:
    dead, without, other = (followed(story) for _ in range(3))
    story.died(dead, 200)
    story.lost(without, 250)
    story.lost(story.rows.unit(story.patient(other), "right"), 250)
    rows = story.times(tmp_path / "s", "retreatment")
    assert rows[["time", "cause"]].to_numpy().tolist() == [[200, 2], [250, 3], [END, 0]]


def test_on_one_day_the_event_counts_before_death(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.later(unit, 200)
    story.died(unit, 200)
    assert story.time(tmp_path / "s", "retreatment")["cause"] == 1


def test_a_date_known_to_the_month_counts_at_its_middle(story: UnitStory, tmp_path: Path) -> None:
    """May 2024 is day 121 to 151; its middle is 136."""
    unit = followed(story)
    story.later(unit, dt.date(2024, 5, 1), occurred_on_precision="month")
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["time_earliest"], row["time_latest"], row["vague"]) == (136, 121, 151, True)
    assert row["missing"] == "day of the event"


def test_the_interval_of_a_date_ends_at_as_of(story: UnitStory, tmp_path: Path) -> None:
    """Written down by day 130, what happened in May happened by then: 121 to 130, the middle 125."""
    unit = story.course()
    story.contact(unit, 130, settles=130)
    story.later(unit, dt.date(2024, 5, 1), occurred_on_precision="month")
    assert story.time(tmp_path / "s", "retreatment", as_of=130)["time"] == 125


def test_a_death_in_the_month_of_the_operation_came_after_it(story: UnitStory, tmp_path: Path) -> None:
    """January 2024 is day 0 to 30, the operation was on day 20: between 20 and 30."""
    unit = story.course(20)
    story.contact(unit, END, settles=END)
    story.died(unit, dt.date(2024, 1, 1), "month")
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["cause"], row["time_earliest"], row["time_latest"]) == (5, 2, 0.5, 10)


def test_treatment_of_a_kidney_not_told_counts_for_each_unless_ignored(story: UnitStory, tmp_path: Path) -> None:
    unit = followed(story)
    story.told_of_no_side(unit, 400, "retreatment")
    row = story.time(tmp_path / "s", "retreatment")
    assert (row["time"], row["what"]) == (400, "side not said")
    assert story.time(tmp_path / "i", "retreatment", side_not_said="ignored")["cause"] == 0


@pytest.mark.parametrize(
    ("side", "state"),
    [
        ({"intent": "drainage"}, "out_intent"),
        ({"conduct": "not_started"}, "out_not_started"),
        ({"conduct": "no_stone_found"}, "out_no_stone"),
    ],
)
def test_who_was_not_treated_for_a_stone_is_not_at_risk(
    story: UnitStory, tmp_path: Path, side: dict[str, str], state: str
) -> None:
    followed(story, **side)
    row = story.time(tmp_path / "s", "retreatment")
    assert row["state"] == state
    assert row["time"] != row["time"]
