"""The grade follows from what was done: the published rule, and the working table of stone surgery."""

from __future__ import annotations

import pytest

from analysis.outcomes.complications.event import Event, Given
from analysis.outcomes.complications.proposal import propose
from analysis.outcomes.complications.therapy_levels import (
    ALLOWED,
    CARE,
    DRUGS,
    INTERVENTIONS,
    SUPPORT,
    LocalChoices,
)
from registry.schema.lists_outcome import TherapyKind


def event(what: str, *therapies: str, **more: object) -> Event:
    """An event of which all is known; a therapy is written `stent_placed:general`."""
    given = []
    for therapy in therapies:
        name, _, under = therapy.partition(":")
        given.append(Given(name, under or None))
    known = {"organs_failing": 0, "died_of_it": False, "present_at_discharge": False}
    return Event(what, tuple(given), **{**known, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("what", "therapies", "grade"),
    [
        # Working table of ureteroscopy and percutaneous surgery.
        ("fever", ("antipyretic",), "I"),
        ("stent_symptoms", ("analgesic",), "I"),
        ("bleeding", ("none",), "I"),
        ("urinary_retention", ("urethral_catheter",), "I"),
        ("febrile_urinary_infection", ("antibiotic",), "II"),
        ("bleeding", ("transfusion",), "II"),
        ("stent_symptoms", ("alpha_blocker",), "II"),
        ("obstruction", ("stent_placed:local",), "IIIa"),
        ("obstruction", ("nephrostomy_placed:none",), "IIIa"),
        ("clot_retention", ("clot_evacuation:sedation",), "IIIa"),
        ("bleeding", ("embolisation:local",), "IIIa"),
        ("stent_migration", ("stent_placed:general",), "IIIb"),
        ("steinstrasse", ("ureteroscopy:general",), "IIIb"),
        # Examples of the published text and its reproductions.
        ("acute_kidney_injury", ("fluids",), "I"),
        ("wound", ("bedside_wound",), "I"),
        ("thrombosis", ("anticoagulant",), "II"),
        ("cardiac", ("other_drug",), "II"),
        ("other", ("parenteral_nutrition",), "II"),
        # Spinal, regional and sedation are not general anaesthesia.
        ("steinstrasse", ("ureteroscopy:regional",), "IIIa"),
        ("steinstrasse", ("ureteroscopy:sedation",), "IIIa"),
        # The worst of several therapies.
        ("febrile_urinary_infection", ("antibiotic", "fluids", "antipyretic"), "II"),
        ("febrile_urinary_infection", ("antibiotic", "stent_placed:local"), "IIIa"),
        ("bleeding", ("embolisation:local", "open_surgery:general", "transfusion"), "IIIb"),
    ],
)
def test_the_working_table(what: str, therapies: tuple[str, ...], grade: str):
    assert propose(event(what, *therapies)).shown == grade


@pytest.mark.parametrize(
    ("therapies", "organs", "grade"),
    [
        (("antibiotic", "intensive_care", "vasopressor"), 1, "IVa"),
        (("antibiotic", "intensive_care", "vasopressor"), 2, "IVb"),
        (("dialysis",), 1, "IVa"),
        (("dialysis",), 3, "IVb"),
        (("ventilation", "intensive_care"), 1, "IVa"),
        (("intermediate_care",), 1, "IVa"),
        (("intermediate_care", "antibiotic"), 2, "IVb"),
        (("vasopressor",), 1, "IVa"),
        (("stent_placed:general", "intensive_care"), 1, "IVa"),
        # A stay for observation only is graded by the therapy.
        (("antibiotic", "intensive_care"), 0, "II"),
        (("stent_placed:general", "intermediate_care"), 0, "IIIb"),
        (("intensive_care",), 0, "I"),
        # A vasopressor without a failing organ is a drug.
        (("vasopressor",), 0, "II"),
    ],
)
def test_failing_organs(therapies: tuple[str, ...], organs: int, grade: str):
    assert propose(event("sepsis", *therapies, organs_failing=organs)).shown == grade


def test_a_stay_for_observation_is_flagged():
    made = propose(event("sepsis", "antibiotic", "intensive_care"))
    assert made.flags == ("intensive or intermediate care for observation only: graded by therapy",)


def test_organs_failing_without_support_are_graded_by_therapy_and_flagged():
    made = propose(event("acute_kidney_injury", "fluids", organs_failing=1))
    assert (made.grade, made.deciding) == ("I", "fluids")
    assert "graded by therapy" in made.flags[0]


def test_a_blank_organ_count_is_no_matter_on_the_ward():
    assert propose(event("fever", "antibiotic", organs_failing=None)).grade == "II"


def test_a_vasopressor_leaves_the_grade_open_until_the_organs_are_counted():
    # With one failing organ it is IVa, with none a drug like another: blank is never the lower of the two.
    made = propose(event("bleeding", "vasopressor", organs_failing=None))
    assert (made.grade, made.missing) == (None, ("organs failing",))


def test_death_of_the_complication_is_v_whatever_was_done():
    for therapies in ((), ("none",), ("intensive_care",), ("stent_placed",)):
        made = propose(event("sepsis", *therapies, died_of_it=True, death="near", organs_failing=None))
        assert (made.grade, made.missing) == ("V", ())


def test_death_of_another_cause_is_not_v():
    assert propose(event("sepsis", "antibiotic", death="near")).grade == "II"


def test_the_rule_that_fired_and_the_therapy_that_decided_are_told():
    made = propose(event("steinstrasse", "antibiotic", "ureteroscopy:general"))
    assert made.rule == "an intervention under general anaesthesia"
    assert made.deciding == "ureteroscopy"
    assert propose(event("haematoma", "none")).deciding == "none"
    assert propose(event("sepsis", "antibiotic", "dialysis", organs_failing=1)).deciding == "dialysis"


def test_suffix_d_is_put_behind_the_grade():
    assert propose(event("urinoma", "drainage:local", present_at_discharge=True)).shown == "IIIa-d"
    assert propose(event("urinoma", "drainage:local", present_at_discharge=None)).suffix_d is None
    # The dead are not disabled.
    assert propose(event("sepsis", "none", present_at_discharge=True, died_of_it=True, death="near")).shown == "V"


@pytest.mark.parametrize(("catheter", "grade"), [("I", "I"), ("II", "II"), ("IIIa", "IIIa")])
def test_a_catheter_is_graded_by_local_choice_and_flagged(catheter: str, grade: str):
    made = propose(event("urinary_retention", "urethral_catheter"), LocalChoices(catheter=catheter))
    assert (made.grade, made.flags) == (grade, (f"catheter, grade {grade} by local choice",))


def test_a_catheter_that_counts_as_an_intervention_follows_its_anaesthesia():
    choices = LocalChoices(catheter="IIIa")
    assert propose(event("clot_retention", "urethral_catheter:general"), choices).grade == "IIIb"


@pytest.mark.parametrize("alpha_blocker", ["II", "I"])
def test_an_alpha_blocker_is_graded_by_local_choice_and_flagged(alpha_blocker: str):
    made = propose(event("stent_symptoms", "alpha_blocker"), LocalChoices(alpha_blocker=alpha_blocker))
    assert made.grade == alpha_blocker
    assert made.flags == (f"alpha-blocker, grade {alpha_blocker} by local choice",)


def test_a_local_choice_that_is_none_is_refused():
    with pytest.raises(ValueError, match="catheter is 'V'; it can be I, II, IIIa"):
        LocalChoices(catheter="V")


def test_every_therapy_of_the_list_has_its_place():
    placed = ALLOWED | DRUGS | INTERVENTIONS | CARE | SUPPORT
    apart = {"none", "urethral_catheter", "prolonged_prophylaxis", "alpha_blocker"}
    assert {kind.value for kind in TherapyKind} == {kind.value for kind in placed} | apart
