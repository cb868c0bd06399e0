"""Sepsis by its two definitions, and septic shock; SOFA worked by hand."""

from __future__ import annotations

from typing import Any

import pytest

from analysis.outcomes.infection.sofa import SYSTEMS, sofa

from .story import CALM, WELL, Story


def points(**values: Any) -> dict[str, Any]:
    return dict(sofa(Story().seen(1, **values).days()).iloc[0])


def infected(**more: Any) -> Story:
    return Story(**more).told("urinary_infection", 1, antibiotic=True)


@pytest.mark.parametrize(
    ("values", "system", "expected"),
    [
        # Vincent et al., Intensive Care Med 1996;22:707-710, from memory: the first value of each step.
        *(
            ({"pf": pf, "ventilated": True}, "respiration", p)
            for pf, p in ((400, 0), (399, 1), (299, 2), (199, 3), (99, 4))
        ),
        *(({"pf": pf, "ventilated": False}, "respiration", p) for pf, p in ((299, 2), (199, 2), (99, 2))),
        *(({"platelets": n}, "platelets", p) for n, p in ((150, 0), (149, 1), (99, 2), (49, 3), (19, 4))),
        # 1.2, 2.0, 6.0 and 12.0 mg/dL at 17.1 umol/L each
        *(({"bilirubin": n}, "liver", p) for n, p in ((20.5, 0), (20.52, 1), (34.2, 2), (102.6, 3), (205.2, 4))),
        *(({"mean": n, "vasopressor": False}, "circulation", p) for n, p in ((70, 0), (69, 1))),
        *(({"noradrenaline": n}, "circulation", p) for n, p in ((0.05, 3), (0.1, 3), (0.11, 4))),
        *(({"coma": n}, "coma", p) for n, p in ((15, 0), (14, 1), (13, 1), (12, 2), (10, 2), (9, 3), (6, 3), (5, 4))),
        # 1.2, 2.0, 3.5 and 5.0 mg/dL at 88.4 umol/L each
        *(({"creatinine": n}, "kidney", p) for n, p in ((106.0, 0), (106.08, 1), (176.8, 2), (309.4, 3), (442.0, 4))),
        *(({"creatinine": 80, "urine": n}, "kidney", p) for n, p in ((500, 0), (499, 3), (199, 4))),
    ],
)
def test_each_step_of_each_system(values: dict[str, Any], system: str, expected: int):
    made = points(**values)
    assert (made[f"{system}_low"], made[f"{system}_high"]) == (expected, expected)


def test_six_well_systems_are_0_and_a_hand_worked_case_is_10():
    assert points(**WELL)["total"] == 0
    # 280 supported 2, platelets 90 2, bilirubin 40 umol/L = 2.3 mg/dL 2, mean 65 1, coma 13 1, creatinine 200 = 2.3 2
    ill = {"pf": 280, "ventilated": True, "platelets": 90, "bilirubin": 40, "mean": 65, "vasopressor": False}
    assert points(**ill, coma=13, creatinine=200)["total"] == 2 + 2 + 2 + 1 + 1 + 2


def test_a_total_needs_all_six_and_says_which_lack():
    made = points(**{**WELL, "bilirubin": None})
    assert made["total"] is not None and str(made["total"]) == "<NA>"
    assert (made["missing"], made["low"], made["high"]) == ("bilirubin", 0, 4)


def test_a_vasopressor_whose_dose_is_not_recorded_is_2_to_4_points_and_never_one_number():
    made = points(**{**WELL, "vasopressor": True})
    assert (made["circulation_low"], made["circulation_high"]) == (2, 4)
    assert str(made["total"]) == "<NA>"


def test_little_oxygen_without_a_word_on_support_is_2_or_what_support_makes_of_it():
    made = points(pf=150)
    assert (made["respiration_low"], made["respiration_high"]) == (2, 3)


def test_sepsis_of_2016_is_infection_and_a_rise_of_two():
    story = infected().seen(-3, **WELL)
    assert story.seen(1, **{**WELL, "platelets": 90}).says("sepsis-3") == "yes"


def test_a_high_score_that_was_there_before_is_no_rise():
    chronic = {**WELL, "creatinine": 200}
    assert infected().seen(-3, **chronic).seen(1, **chronic).says("sepsis-3") == "no"


def test_a_rise_without_infection_is_no_sepsis_and_nor_is_infection_without_a_rise():
    assert Story().seen(1, **{**WELL, "platelets": 40}).says("sepsis-3") == "no"
    assert infected().seen(1, **WELL).says("sepsis-3") == "no"


def test_two_points_known_are_enough_whatever_lacks():
    assert infected().seen(1, creatinine=200).says("sepsis-3") == "yes"


def test_one_point_known_and_others_missing_is_not_computable():
    told = infected().seen(1, creatinine=120, coma=15).says("sepsis-3")
    assert told == "PaO2/FiO2, platelets, bilirubin, mean pressure or vasopressor"


def test_an_unknown_baseline_counts_as_0_and_that_is_said():
    made = infected().seen(1, **WELL).judged()
    assert made.base["assumed"].iloc[0].split(", ") == list(SYSTEMS)


def test_with_chronic_kidney_disease_and_no_creatinine_before_the_kidney_s_baseline_is_unknown():
    story = infected(chronic_kidney_disease=True).seen(1, **{**WELL, "creatinine": 200})
    assert story.says("sepsis-3") != "yes"
    assert "kidney" not in story.judged().base["assumed"].iloc[0]


def test_a_baseline_older_than_allowed_is_none():
    story = infected().seen(-91, **{**WELL, "creatinine": 200}).seen(1, **{**WELL, "creatinine": 200})
    assert (story.says("sepsis-3"), story.says("sepsis-3", baseline_days=91)) == ("yes", "no")


def test_infection_nobody_looked_for_is_not_absent():
    story = Story(reviewed_to=None).seen(1, **{**WELL, "platelets": 40})
    assert story.says("sepsis-3") == "review to day 30"


def test_growth_in_blood_is_infection_at_any_count():
    story = Story(reviewed_to=None).culture(2, "positive", None, specimen="blood")
    assert story.seen(1, **{**WELL, "platelets": 40}).says("sepsis-3") == "yes"


def test_sepsis_of_1991_is_another_definition_and_both_are_kept():
    story = infected().seen(1, **{**CALM, **WELL, "temp": 39.0, "heart": 110})
    assert (story.says("sepsis-1991"), story.says("sepsis-3")) == ("yes", "no")


def test_shock_is_sepsis_with_a_vasopressor_and_lactate_above_two_on_that_day():
    ill = {**WELL, "vasopressor": True, "platelets": 90}
    assert infected().seen(1, **ill, lactate=2.1).says("septic-shock") == "yes"
    assert infected().seen(1, **ill, lactate=2.0).says("septic-shock") == "no"
    assert infected().seen(1, **ill).says("septic-shock") == "lactate"
    assert infected().seen(1, **ill).seen(2, **WELL, lactate=4.0).says("septic-shock") == "lactate"


def test_recorded_sepsis_is_not_computed_sepsis():
    story = Story().told("sepsis", 2).seen(1, **{**CALM, **WELL})
    assert (story.says("recorded-sepsis"), story.says("sepsis-1991"), story.says("sepsis-3")) == ("yes", "no", "no")


def test_noradrenaline_without_a_vasopressor_is_named_and_neither_is_used():
    story = Story().seen(1, mean=80, noradrenaline=0.2, vasopressor=False)
    assert "0.2 ug/kg/min" in story.judged().contradictions["what"].iloc[0]
    made = sofa(story.days()).iloc[0]
    assert (made["circulation_low"], made["circulation_high"]) == (0, 4)


def test_a_systolic_pressure_below_the_mean_is_named_and_neither_is_used():
    story = Story().seen(1, systolic=80, mean=95)
    assert "80" in story.judged().contradictions["what"].iloc[0]
    assert story.days()[["systolic_mmhg", "mean_pressure_mmhg"]].isna().all(axis=None)
