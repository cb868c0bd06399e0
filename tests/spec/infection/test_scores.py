"""SIRS and qSOFA of one day: two known criteria are enough, one known and one missing are not."""

from __future__ import annotations

from typing import Any

import pytest

from analysis.outcomes.infection.sirs import qsofa, sirs

from .story import CALM, Story


def sirs_of(**values: Any) -> str:
    return Story().seen(1, **values).says("sirs-")


def test_two_criteria_make_it_even_when_the_others_are_missing():
    assert sirs_of(temp=38.5, heart=110) == "yes"


def test_one_criterion_and_missing_others_are_not_computable_and_the_missing_are_named():
    assert sirs_of(temp=38.5) == "heart rate, respiratory rate, white cells"
    assert sirs_of(temp=38.5, heart=80, breath=14) == "white cells"


def test_none_of_three_cannot_become_two():
    assert sirs_of(temp=36.8, heart=80, breath=14) == "no"


def test_all_known_and_fewer_than_two_is_no():
    assert sirs_of(temp=38.5, heart=80, breath=14, white=7) == "no"


@pytest.mark.parametrize(
    ("values", "met"),
    [
        ({"temp": 38.0}, False),
        ({"temp": 38.1}, True),
        ({"temp": 36.0}, False),
        ({"temp": 35.9}, True),
        ({"heart": 90}, False),
        ({"heart": 91}, True),
        ({"breath": 20}, False),
        ({"breath": 21}, True),
        ({"breath": 14, "paco2": 32}, False),
        ({"breath": 14, "paco2": 31.9}, True),
        ({"white": 12.0}, False),
        ({"white": 12.1}, True),
        ({"white": 4.0}, False),
        ({"white": 3.9}, True),
        ({"white": 7.0, "bands": 10}, False),
        ({"white": 7.0, "bands": 10.1}, True),
    ],
)
def test_each_limit_of_1992_is_left_out_itself(values: dict[str, float], met: bool):
    assert sirs(Story().seen(1, **{**CALM, **values}).days())["low"].iloc[0] == met


def test_arterial_gas_alone_can_meet_the_criterion_but_not_rule_it_out():
    assert sirs(Story().seen(1, paco2=30).days())["low"].iloc[0] == 1
    assert sirs(Story().seen(1, paco2=40).days())["respiration"].isna().iloc[0]


def test_criteria_of_two_days_do_not_add_up():
    assert Story().seen(1, **{**CALM, "temp": 39.0}).seen(2, **{**CALM, "heart": 120}).says("sirs-") == "no"


def test_vital_signs_and_laboratory_values_of_one_day_do():
    assert Story().seen(1, temp=39.0, heart=80, breath=14).seen(1, white=15).says("sirs-") == "yes"


def test_an_operation_with_one_day_left_open_is_not_computable():
    assert Story().seen(1, **CALM).seen(2, temp=38.5).says("sirs-") == "heart rate, respiratory rate, white cells"


def test_a_day_on_which_none_of_it_was_measured_says_nothing():
    assert Story().seen(1, **CALM).seen(2, creatinine=90).says("sirs-") == "no"


@pytest.mark.parametrize(
    ("values", "points"),
    [
        ({}, 0),
        ({"breath": 21}, 0),
        ({"breath": 22}, 1),
        ({"systolic": 101}, 0),
        ({"systolic": 100}, 1),
        ({"coma": 14}, 1),
        ({"breath": 22, "systolic": 100, "coma": 14}, 3),
    ],
)
def test_qsofa_has_a_point_for_each_limit_reached(values: dict[str, float], points: int):
    made = qsofa(Story().seen(1, **{**CALM, **values}).days()).iloc[0]
    assert (made["low"], made["high"]) == (points, points)


def test_qsofa_of_one_known_point_and_two_known_absent_is_no_and_with_one_missing_open():
    assert Story().seen(1, breath=24, systolic=120, coma=15).says("qsofa-") == "no"
    assert Story().seen(1, breath=24, systolic=120).says("qsofa-") == "coma scale"
