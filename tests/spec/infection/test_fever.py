"""Fever is a recorded temperature at the stated threshold; no record of fever is not no fever."""

from __future__ import annotations

import pytest

from .story import Story


@pytest.mark.parametrize(("temp", "expected"), [(37.9, "no"), (38.0, "yes"), (38.1, "yes")])
def test_from_the_threshold_it_is_fever(temp: float, expected: str):
    assert Story().seen(1, temp=temp).says("fever-") == expected


@pytest.mark.parametrize(("temp", "expected"), [(38.0, "no"), (38.1, "yes")])
def test_the_strict_form_leaves_the_threshold_itself_out(temp: float, expected: str):
    assert Story().seen(1, temp=temp).says("fever-over-38.0", fever_strict=True) == expected


def test_the_threshold_is_the_unit_s_to_set():
    story = Story().seen(1, temp=38.2)
    assert (story.says("fever-from-38.5", fever_c=38.5), story.says("fever-from-38.0")) == ("no", "yes")


def test_without_a_temperature_nothing_is_known_of_fever():
    assert Story().seen(1, heart=80).says("fever-") == "temperature"
    assert Story().says("fever-") == "temperature"


def test_the_last_day_of_the_window_is_in_and_the_next_is_not():
    story = Story().seen(1, temp=37.0).seen(3, temp=39.0)
    assert [story.says("fever-", days) for days in (2, 3, 30)] == ["no", "yes", "yes"]


def test_fever_before_the_operation_is_not_fever_after_it():
    assert Story().seen(-1, temp=39.0).seen(0, "during", temp=39.0).says("fever-") == "temperature"


def test_a_set_that_nobody_placed_before_or_after_decides_nothing_and_is_named():
    story = Story().seen(0, "unsettled", temp=39.0)
    assert story.says("fever-") == "temperature"
    assert "not said" in story.judged().contradictions["what"].iloc[0]


def test_nothing_dated_after_the_as_of_day_is_read():
    story = Story().seen(1, temp=37.0).seen(20, temp=39.0)
    by_day_10 = next(one for one in story.judged(30, as_of=10).outcomes if one.definition.id.startswith("fever-"))
    assert not by_day_10.answer.state.iloc[0]


@pytest.mark.parametrize(("as_of", "due"), [(30, False), (31, True)])
def test_an_operation_is_due_once_the_last_day_of_its_window_is_over(as_of: int, due: bool):
    assert Story().judged(30, as_of=as_of).operations["due"].iloc[0] == due


def test_recorded_fever_and_measured_fever_stand_apart():
    story = Story().seen(1, temp=37.0).told("fever", 1)
    assert (story.says("fever-"), story.says("recorded-fever")) == ("no", "yes")
    story = Story().seen(1, temp=39.0)
    assert (story.says("fever-"), story.says("recorded-fever")) == ("yes", "no")


def test_no_recorded_fever_is_a_no_only_where_the_case_was_reviewed_to_the_end_of_the_window():
    assert Story(reviewed_to=None).says("recorded-fever") == "review to day 30"
    assert Story(reviewed_to=29).says("recorded-fever") == "review to day 30"
    assert Story(reviewed_to=30).says("recorded-fever") == "no"


def test_who_died_in_the_window_is_known_until_then():
    assert Story(reviewed_to=None, died=12).says("recorded-fever") == "no"
    assert Story(reviewed_to=None, died=31).says("recorded-fever") == "review to day 30"


def test_an_onset_that_may_lie_in_the_window_or_after_it_leaves_the_answer_open():
    assert Story().told("fever", 20, 50).says("recorded-fever") == "date of onset"
    assert Story().told("fever", None).says("recorded-fever") == "date of onset"
    assert Story().told("fever", 31, 50).says("recorded-fever") == "no"
