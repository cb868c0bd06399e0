"""Recurrence: only courses that were stone-free are at risk, from the image that showed it."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tests.spec.follow_up.unit_story import UnitStory


@pytest.fixture
def story() -> UnitStory:
    return UnitStory()


def free(story: UnitStory, on: int = 30) -> int:
    unit = story.course()
    story.image(unit, on)
    return unit


def test_the_event_lies_between_the_last_image_without_and_the_first_with(story: UnitStory, tmp_path: Path) -> None:
    """Free on day 30, clear on 200, a fragment on 400: between 170 and 370 days, the middle 270."""
    unit = free(story)
    story.image(unit, 200)
    story.image(unit, 400, 5.0)
    story.image(unit, 600, 7.0)
    row = story.time(tmp_path / "s", "recurrence")
    assert (row["left"], row["right"], row["time"]) == (170, 370, 270)
    assert (row["cause"], row["what"], row["end_basis"]) == (1, "fragment where none was", "last image")
    assert (row["time_earliest"], row["time_latest"]) == (170, 370)


def test_time_runs_from_the_image_and_not_from_the_operation(story: UnitStory, tmp_path: Path) -> None:
    """The course free on day 80 could not have recurred before: counted from day 0 it would be given 80 days in which
    nothing could happen."""
    unit = free(story, 80)
    story.image(unit, 180)
    row = story.time(tmp_path / "s", "recurrence")
    assert (row["time"], str(row["origin_on"])[:10]) == (100, "2024-03-21")


def test_follow_up_ends_with_the_last_image_whatever_contact_came_later(story: UnitStory, tmp_path: Path) -> None:
    unit = free(story)
    story.image(unit, 200)
    story.contact(unit, 900, settles=900)
    row = story.time(tmp_path / "s", "recurrence")
    assert (row["time"], row["cause"], row["left"], row["right"]) == (170, 0, 170, math.inf)


def test_without_a_later_image_nothing_is_known(story: UnitStory, tmp_path: Path) -> None:
    story.contact(free(story), 900, settles=900)
    assert story.time(tmp_path / "s", "recurrence")["state"] == "no_follow_up"


def test_who_is_not_free_or_not_known_to_be_is_not_at_risk(story: UnitStory, tmp_path: Path) -> None:
    failed = story.course()
    story.image(failed, 30, 3.0)
    weak = story.course()
    story.image(weak, 30, modality="ultrasound")
    story.course()
    rows = story.times(tmp_path / "s", "recurrence")
    assert rows["state"].tolist() == ["not_stone_free", "stone_free_unknown", "stone_free_unknown"]


def test_a_new_stone_counts_at_any_threshold(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.image(unit, 30, 1.5)
    story.image(unit, 230, 1.5, origin="new")
    row = story.time(tmp_path / "s", "recurrence", stone_free={"threshold": "2"})
    assert (row["cause"], row["right"], row["what"]) == (1, 200, "new stone on an image")


def test_a_fragment_that_was_there_counts_only_above_the_threshold(story: UnitStory, tmp_path: Path) -> None:
    unit = story.course()
    story.image(unit, 30, 1.5)
    story.image(unit, 130, 2.0)
    story.image(unit, 230, 3.0)
    row = story.time(tmp_path / "s", "recurrence", stone_free={"threshold": "2"})
    assert (row["left"], row["right"], row["what"]) == (100, 200, "above the threshold")


def test_a_size_that_settles_nothing_is_no_look(story: UnitStory, tmp_path: Path) -> None:
    """Fragments without a size say neither "still below 2 mm" nor "above"."""
    unit = story.course()
    story.image(unit, 30, 1.5)
    study = story.rows.add(
        "examination", patient_id=story.patient(unit), examined_on=story.rows.tables["operation"][0]["operated_on"]
        .replace(month=8), modality="ct", slice_mm=1.0,
    )  # fmt: skip
    story.rows.add("reading", examination_id=study, renal_unit_id=unit, finding="fragments")
    assert story.time(tmp_path / "s", "recurrence", stone_free={"threshold": "2"})["state"] == "no_follow_up"


def test_images_count_alike_whether_clear_or_not(story: UnitStory, tmp_path: Path) -> None:
    """By the policy an ultrasound counts for and against; of adequate images alone it counts for neither."""
    clear, found = free(story), free(story)
    story.image(clear, 230, modality="ultrasound")
    story.image(found, 230, 6.0, modality="ultrasound")
    rows = story.times(tmp_path / "policy", "recurrence")
    assert rows[["time", "cause"]].to_numpy().tolist() == [[200, 0], [100, 1]]
    assert set(story.times(tmp_path / "adequate", "recurrence", looks="adequate")["state"]) == {"no_follow_up"}


def test_after_further_treatment_images_do_not_count(story: UnitStory, tmp_path: Path) -> None:
    unit = free(story)
    story.image(unit, 130)
    story.later(unit, 300)
    story.image(unit, 330, 4.0)
    row = story.time(tmp_path / "s", "recurrence")
    assert (row["time"], row["cause"]) == (100, 0)


def test_a_death_soon_after_the_last_image_competes_and_a_later_one_does_not(story: UnitStory, tmp_path: Path) -> None:
    soon, late = free(story), free(story)
    for unit, on in ((soon, 330), (late, 800)):
        story.image(unit, 130)
        story.died(unit, on)
    rows = story.times(tmp_path / "s", "recurrence")
    assert rows[["time", "cause"]].to_numpy().tolist() == [[300, 2], [100, 0]]
    wide = story.times(tmp_path / "w", "recurrence", competing_within=700)
    assert wide[["time", "cause"]].to_numpy().tolist() == [[300, 2], [770, 2]]


def test_symptoms_are_an_end_point_of_their_own(story: UnitStory, tmp_path: Path) -> None:
    units = [free(story) for _ in range(5)]
    for unit in units:
        story.contact(unit, 900, settles=900)
    for unit, what in zip(units, ("stone_episode", "new_stone", "fragment_passed", "retreatment"), strict=False):
        story.later(unit, 330, what)
    story.image(units[4], 330, 6.0)
    rows = story.times(tmp_path / "s", "symptomatic_recurrence")
    assert rows["time"].tolist() == [300, 300, 300, 300, 870]
    assert rows["what"].tolist() == ["stone_episode", "new_stone", "fragment_passed", "treatment: unplanned", ""]


def test_an_episode_before_the_image_is_no_recurrence(story: UnitStory, tmp_path: Path) -> None:
    unit = free(story)
    story.contact(unit, 900, settles=900)
    story.later(unit, 20, "stone_episode")
    story.later(unit, 30, "stone_episode")
    row = story.time(tmp_path / "s", "symptomatic_recurrence")
    assert (row["time"], row["cause"]) == (870, 0)
