"""What is missing gives no grade, never a lower one; what contradicts itself is named case by case."""

from __future__ import annotations

import pytest

from analysis.outcomes.complications.event import Event, Given, Proposal
from analysis.outcomes.complications.proposal import propose

from .test_grade_from_therapies import event


def open_between(made: Proposal, *grades: str) -> bool:
    return made.state == "not computable" and made.grade is None and made.rule.endswith(", ".join(grades))


def test_no_therapy_recorded_is_not_observation():
    made = propose(event("bleeding"))
    assert open_between(made, "I", "II", "IIIa", "IIIb", "IVa", "IVb")
    assert made.missing == ("therapies",)


def test_an_intervention_without_its_anaesthesia_is_iii_and_a_or_b_is_not_known():
    made = propose(event("obstruction", "stent_placed"))
    assert open_between(made, "IIIa", "IIIb")
    assert made.missing == ("anaesthesia of: Stent placed or changed",)


def test_what_is_missing_does_not_matter_when_something_higher_fires():
    made = propose(event("sepsis", "stent_placed", "dialysis", organs_failing=1))
    assert (made.grade, made.missing) == ("IVa", ())
    made = propose(event("obstruction", "stent_placed", "ureteroscopy:general"))
    assert (made.grade, made.missing) == ("IIIb", ())


@pytest.mark.parametrize(
    ("therapies", "grades"),
    [
        (("intensive_care", "antibiotic"), ("II", "IVa", "IVb")),
        (("intermediate_care",), ("I", "IVa", "IVb")),
        (("intensive_care", "vasopressor"), ("IVa", "IVb")),
        (("dialysis",), ("IVa", "IVb")),
        (("ventilation",), ("IVa", "IVb")),
    ],
)
def test_care_without_the_count_of_failing_organs(therapies: tuple[str, ...], grades: tuple[str, ...]):
    made = propose(event("sepsis", *therapies, organs_failing=None))
    assert open_between(made, *grades)
    assert made.missing == ("organs failing",)


def test_a_death_near_the_onset_asks_whether_it_was_of_it():
    made = propose(event("sepsis", "antibiotic", died_of_it=None, death="near"))
    assert open_between(made, "II", "V")
    assert made.missing == ("died of it",)
    for death in ("none", "before", "later"):
        assert propose(event("sepsis", "antibiotic", died_of_it=None, death=death)).grade == "II"


@pytest.mark.parametrize(
    ("made", "said", "grades"),
    [
        (
            propose(event("fever", "antibiotic:general")),
            "general anaesthesia for what needs none: Antibiotic, to treat",
            ("II", "IIIb"),
        ),
        (
            propose(event("fever", "antipyretic:regional")),
            "regional anaesthesia for what needs none: Antipyretic",
            ("I", "IIIa"),
        ),
        (
            propose(event("fever", "none", "antibiotic")),
            "observation only, beside another therapy",
            ("I", "II"),
        ),
        (
            propose(event("sepsis", "none", "dialysis", organs_failing=1)),
            "observation only, beside another therapy",
            ("I", "IVa"),
        ),
        (
            propose(event("sepsis", "antibiotic", died_of_it=True)),
            "died of it, and the patient has no date of death",
            ("II", "V"),
        ),
        (
            propose(event("sepsis", "antibiotic", died_of_it=True, death="before")),
            "died of it, and the death lies before the onset",
            ("II", "V"),
        ),
        (
            propose(event("sepsis", "dialysis", organs_failing=0)),
            "dialysis or ventilation, and no organ failing",
            ("I", "IVa"),
        ),
        (
            propose(event("sepsis", "intensive_care", "vasopressor", organs_failing=0)),
            "a vasopressor in intensive or intermediate care, and no organ failing",
            ("II", "IVa"),
        ),
        (
            propose(event("urinary_infection", "prolonged_prophylaxis")),
            "prophylaxis prolonged without infection, and the event is an infection",
            ("I", "II"),
        ),
    ],
)
def test_contradictions_are_named_and_leave_no_wrong_grade(made: Proposal, said: str, grades: tuple[str, ...]):
    assert made.contradictions == (said,)
    assert open_between(made, *grades)


def test_a_contradiction_that_changes_nothing_leaves_the_grade_and_is_named():
    made = propose(event("fever", "none", "antipyretic"))
    assert (made.grade, made.contradictions) == ("I", ("observation only, beside another therapy",))
    made = propose(event("bleeding", "transfusion:general", "open_surgery:general"))
    assert made.grade == "IIIb"
    assert len(made.contradictions) == 1


def test_planned_steps_are_no_therapy_of_a_complication():
    staged = Event("steinstrasse", (Given("ureteroscopy", "general", "planned_stage"),), 0, False, False)
    assert propose(staged).grade == "I"
    assert propose(staged).flags == ("a planned stage of the course is no therapy of a complication",)
    treated = Event("fever", (Given("ureteroscopy", "general", "planned_stage"), Given("antibiotic")), 0, False, False)
    assert propose(treated).grade == "II"


@pytest.mark.parametrize(
    ("given", "why"),
    [
        (Given("ureteroscopy", "general", "planned_stage"), "a planned step of the course is no complication"),
        (Given("other_intervention", "local", "planned_removal"), "a planned step of the course is no complication"),
        (Given("prolonged_prophylaxis"), "prolonged prophylaxis without infection is no complication"),
    ],
)
def test_nothing_but_a_planned_step_or_prolonged_prophylaxis_is_no_complication(given: Given, why: str):
    made = propose(Event("other", (given,), 0, False, False))
    assert (made.state, made.grade, made.possible, made.rule) == ("no complication", None, (), why)


def test_prolonged_prophylaxis_beside_a_deviation_leaves_the_deviation():
    made = propose(event("fever", "prolonged_prophylaxis", "antipyretic"))
    assert made.grade == "I"
    assert "prolonged prophylaxis without infection is no therapy of a complication" in made.flags
