"""Residual fragments: from the image that found them to infection, colic, enlargement, treatment; or to passage."""

from __future__ import annotations

from pathlib import Path

import pytest

from analysis.outcomes.follow_up.rules import ChoiceError, Choices, rule_of
from analysis.outcomes.follow_up.time_to import time_to
from tests.spec.follow_up.unit_story import UnitStory

END = 930


@pytest.fixture
def story() -> UnitStory:
    return UnitStory()


def residual(story: UnitStory, *sizes: float) -> int:
    unit = story.course()
    story.image(unit, 30, *(sizes or (3.0,)))
    story.contact(unit, END, settles=END)
    return unit


def test_each_component_is_an_event_and_named(story: UnitStory, tmp_path: Path) -> None:
    infected, colic, episode, regrown, treated, none = (residual(story) for _ in range(6))
    story.complication(infected, 130, "urinary_infection")
    story.complication(colic, 130, "colic")
    story.later(episode, 130, "stone_episode")
    story.later(regrown, 130, "regrowth")
    story.later(treated, 130)
    story.complication(none, 130, "bleeding")
    rows = story.times(tmp_path / "s", "fragment_event")
    assert rows["what"].tolist() == [
        "urinary infection", "colic", "stone episode (colic or infection)", "enlargement", "additional treatment", ""
    ]  # fmt: skip
    assert rows["time"].tolist() == [100] * 5 + [END - 30]


def test_every_component_within_follow_up_is_kept(story: UnitStory, tmp_path: Path) -> None:
    unit = residual(story)
    story.later(unit, 330)
    story.complication(unit, 130, "colic")
    story.later(unit, 1200, "regrowth")
    row = story.time(tmp_path / "s", "fragment_event")
    assert (row["what"], row["components"]) == ("colic", "colic, additional treatment")


def test_a_complication_before_the_image_or_without_a_day_is_none(story: UnitStory, tmp_path: Path) -> None:
    unit = residual(story)
    story.complication(unit, 5, "colic")
    story.complication(unit, None, "urinary_infection")
    assert story.time(tmp_path / "s", "fragment_event")["cause"] == 0


@pytest.mark.parametrize(("later_mm", "modality", "cause"), [(5.0, "ct", 1), (4.9, "ct", 0), (6.0, "ultrasound", 0)])
def test_growth_is_told_on_the_same_kind_of_image(
    story: UnitStory, tmp_path: Path, later_mm: float, modality: str, cause: int
) -> None:
    """3 mm at first: 2 mm more is enlargement, less is not, and on another kind of image nothing is."""
    story.image(residual(story, 3.0), 230, later_mm, modality=modality)
    assert story.time(tmp_path / "s", "fragment_event")["cause"] == cause


def test_growth_is_a_choice(story: UnitStory, tmp_path: Path) -> None:
    story.image(residual(story, 3.0), 230, 4.0)
    assert story.time(tmp_path / "two", "fragment_event")["cause"] == 0
    assert story.time(tmp_path / "one", "fragment_event", growth_mm=1.0)["time"] == 200


def test_who_has_no_fragments_is_not_at_risk(story: UnitStory, tmp_path: Path) -> None:
    story.image(story.course(), 30)
    story.later(story.course(), 10)
    story.course()
    rows = story.times(tmp_path / "s", "fragment_event")
    assert rows["state"].tolist() == ["no_fragments", "failed_unseen", "stone_free_unknown"]


def test_passage_competes_with_intervention(story: UnitStory, tmp_path: Path) -> None:
    passed, treated, gone = (residual(story) for _ in range(3))
    story.later(passed, 130, "fragment_passed")
    story.later(treated, 130)
    story.image(treated, 160)
    story.image(gone, 130, 3.0)
    story.image(gone, 230)
    rows = story.times(tmp_path / "s", "fragment_event", event="passage")
    assert rows["cause"].tolist() == [1, 4, 1]
    assert rows["what"].tolist() == ["fragment passed", "intervention: unplanned", "gone on an image"]
    assert rows["time"].tolist() == [100, 100, 150]


def test_choices_that_mean_nothing_are_named() -> None:
    with pytest.raises(ChoiceError, match="origin cannot be 'birth'; choose one of index, planned_end"):
        Choices(origin="birth")
    with pytest.raises(ChoiceError, match="growth_mm is 0"):
        Choices(growth_mm=0)
    with pytest.raises(ChoiceError, match="competing_within is -1"):
        Choices(competing_within=-1)
    with pytest.raises(ChoiceError, match="'cure' is no time to an event"):
        time_to("cure", None, {}, Choices())  # type: ignore[arg-type]
    with pytest.raises(ChoiceError, match="needs a definition of stone-free"):
        time_to("recurrence", None, {}, Choices())  # type: ignore[arg-type]


@pytest.mark.parametrize("what", ["retreatment", "recurrence", "symptomatic_recurrence", "fragment_event"])
def test_every_rule_tells_origin_event_end_and_source(what: str) -> None:
    said = dict(rule_of(what, Choices()).in_words(Choices()))
    assert {"definition", "at risk", "time runs from", "event", "follow-up ends", "competing"} <= set(said)
    assert "version 1" in said["definition"]
    told = rule_of(what, Choices(censoring="as_of")).ends_in_words(Choices(censoring="as_of"))
    assert ("taking for granted" in told) == (what != "recurrence")
