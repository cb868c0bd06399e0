"""Febrile urinary infection: fever, a urinary source and no other focus, each kept and each able to lack."""

from __future__ import annotations

import pytest

from .story import Story

CULTURE, EITHER = "febrile-urinary-infection-culture", "febrile-urinary-infection-either"


def hot() -> Story:
    return Story().seen(1, temp=38.6)


@pytest.mark.parametrize(("log10", "expected"), [(4.9, "no"), (5.0, "yes"), (6.0, "yes")])
def test_a_culture_counts_from_100_000_per_ml(log10: float, expected: str):
    assert hot().culture(2, "positive", log10).says(CULTURE) == expected


def test_a_local_threshold_of_the_culture_is_the_unit_s_to_set():
    assert hot().culture(2, "positive", 4.0).says(CULTURE, culture_log10=4.0) == "yes"


def test_growth_without_a_count_is_not_computable():
    assert hot().culture(2, "positive").says(CULTURE) == "count of the culture"


def test_a_mixed_culture_decides_nothing():
    assert hot().culture(2, "contaminated", 5.0).says(CULTURE) == "culture after the operation"


def test_blood_is_no_culture_of_urine_and_what_grew_before_the_operation_is_not_after_it():
    story = hot().culture(2, "positive", 6.0, specimen="blood").culture(-7, "positive", 6.0)
    assert story.says(CULTURE) == "culture after the operation"


def test_another_focus_rules_it_out():
    assert hot().culture(2, "positive", 6.0).told("pulmonary", 2).says(CULTURE) == "no"


def test_where_nobody_reviewed_the_case_another_focus_cannot_be_ruled_out():
    story = Story(reviewed_to=None).seen(1, temp=38.6).culture(2, "positive", 6.0)
    assert story.says(CULTURE) == "review to day 30"


def test_without_fever_it_is_none_whatever_else_lacks():
    assert Story(reviewed_to=None).seen(1, temp=37.0).says(CULTURE) == "no"


def test_the_looser_definition_takes_a_recorded_urinary_infection_for_the_source():
    story = hot().told("urinary_infection", 2)
    assert (story.says(CULTURE), story.says(EITHER)) == ("culture after the operation", "yes")


def test_all_that_lacks_is_listed():
    assert Story(reviewed_to=None).says(CULTURE) == "temperature, culture after the operation, review to day 30"
