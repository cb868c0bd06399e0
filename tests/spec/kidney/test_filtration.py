"""Filtration rate from creatinine: whom the equation is for, and which values are taken."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.outcomes.kidney.filtration import ckd_epi_2021
from analysis.outcomes.kidney.judged import judge_kidney
from analysis.outcomes.kidney.rules import KidneyRules
from tests.spec.infection.story import DAY_0, Story


def rate(creatinine: float | None, *, age: int | None = 50, sex: str | None = "male", pregnant: bool = False) -> Any:
    made = ckd_epi_2021(
        pd.Series([creatinine], dtype="float64"),
        pd.Series([age], dtype="Int64"),
        pd.Series([sex], dtype="string"),
        pd.Series([pregnant], dtype="boolean"),
    ).iloc[0]
    return made["reason"] or made["egfr"]


def of(story: Story, *, as_of: int = 800, **rules: Any) -> pd.Series:
    day = DAY_0 + pd.Timedelta(days=as_of)
    ids = pd.Index([1], name="operation_id")
    return judge_kidney(story.frames(), KidneyRules(**rules), as_of=day, operation_ids=ids).iloc[0]


# Derived by hand from Inker et al., N Engl J Med 2021;385:1737-1749 (equation from memory).
@pytest.mark.parametrize(("sex", "expected"), [("male", 91.7), ("female", 68.6)])
def test_1_mg_per_dl_at_50_years(sex: str, expected: float):
    assert rate(88.4, sex=sex) == pytest.approx(expected, abs=0.05)


def test_at_the_knot_only_age_and_sex_are_left():
    assert rate(0.9 * 88.4, age=40) == pytest.approx(142 * 0.9938**40)
    assert rate(0.7 * 88.4, age=40, sex="female") == pytest.approx(142 * 0.9938**40 * 1.012)


@pytest.mark.parametrize(
    ("told", "reason"),
    [
        ({"age": 17}, "under 18 years"),
        ({"age": None}, "age"),
        ({"pregnant": True, "sex": "female"}, "pregnant"),
        ({"sex": "other"}, "sex"),
        ({"sex": None}, "sex"),
    ],
)
def test_not_for_children_not_in_pregnancy_and_not_without_age_or_sex(told: dict[str, Any], reason: str):
    assert rate(88.4, **told) == reason


def test_at_18_it_is_computed_and_without_creatinine_it_is_not():
    assert rate(88.4, age=18) > 0
    assert rate(None) == "creatinine"


def test_the_change_is_after_less_before():
    made = of(Story().seen(-2, creatinine=88.4).seen(30, creatinine=2 * 88.4))
    assert made["change"] == pytest.approx(rate(2 * 88.4) - rate(88.4))
    assert made["change"] < 0


def test_the_last_value_before_is_taken_and_one_too_old_is_none():
    made = of(Story().seen(-60, creatinine=70).seen(-2, creatinine=90).seen(30, creatinine=90))
    assert (made["creatinine_before"], made["day_before"]) == (90, -2)
    assert of(Story().seen(-91, creatinine=70).seen(30, creatinine=90))["reason"] == "creatinine before"


def test_the_value_nearest_the_stated_day_is_taken_of_two_as_near_the_later_or_the_last():
    story = Story().seen(-2, creatinine=90).seen(1, creatinine=99).seen(25, creatinine=95).seen(35, creatinine=91)
    story.seen(200, creatinine=120)
    assert of(story)["day_after"] == 35
    assert of(story, target_day=None)["day_after"] == 200
    assert of(story, target_day=None, last_day=90)["day_after"] == 35


def test_a_value_after_the_next_operation_is_not_taken():
    story = Story(next_operated_on=DAY_0 + pd.Timedelta(days=20)).seen(-2, creatinine=90).seen(15, creatinine=95)
    assert of(story.seen(30, creatinine=200))["day_after"] == 15


def test_the_first_days_are_no_steady_state_and_are_taken_only_when_asked_for():
    story = Story().seen(-2, creatinine=90).seen(1, creatinine=130)
    assert of(story)["reason"] == "creatinine after"
    assert of(story, first_day=1)["day_after"] == 1


def test_what_lacks_is_named_and_the_patient_s_own_reason_comes_first():
    assert of(Story())["reason"] == "creatinine before, creatinine after"
    assert of(Story(age_years=12).seen(-2, creatinine=40))["reason"] == "under 18 years"


def test_before_the_window_is_over_a_missing_value_is_not_due():
    assert not of(Story().seen(-2, creatinine=90), as_of=365)["due_change"]
    assert of(Story().seen(-2, creatinine=90), as_of=366)["due_change"]
    assert of(Story().seen(-2, creatinine=90).seen(30, creatinine=91), as_of=40)["due_change"]
