"""The Guy's stone score: the highest grade that fits."""

from __future__ import annotations

import pytest

from .given import score_of, side, stone, value


@pytest.mark.parametrize("place", ["pelvis", "junction", "middle_calyx", "lower_calyx"])
def test_one_stone_below_the_upper_pole_in_a_simple_kidney_is_grade_1(place: str) -> None:
    assert value("guys", side(stone(place))) == 1


def test_grade_2_is_upper_pole_several_stones_or_one_in_abnormal_anatomy() -> None:
    assert value("guys", side(stone("upper_calyx"))) == 2
    assert value("guys", side(stone("pelvis"), stone("lower_calyx"))) == 2
    assert value("guys", side(stone("pelvis"), anatomy="horseshoe")) == 2
    assert value("guys", side(stone("pelvis"), anatomy="urinary_diversion")) == 2


def test_grade_3_is_several_in_abnormal_anatomy_a_diverticulum_or_a_partial_staghorn() -> None:
    assert value("guys", side(stone(), stone("lower_calyx"), anatomy="duplex")) == 3
    assert value("guys", side(stone("diverticulum"))) == 3
    assert value("guys", side(stone("partial_staghorn"))) == 3


def test_grade_4_is_a_complete_staghorn_or_spinal_disease() -> None:
    assert value("guys", side(stone("complete_staghorn"))) == 4
    assert value("guys", side(stone("pelvis"), spinal_disease="yes")) == 4


def test_a_missing_input_that_could_change_the_grade_makes_it_not_computable() -> None:
    found = score_of("guys", side(anatomy=None))
    assert (found.state, found.value, found.low, found.high, found.missing) == (
        "not computable",
        None,
        1,
        2,
        ("anatomy",),
    )
    assert score_of("guys", side(stone(None))).missing == ("stone location",)
    assert score_of("guys", side(stone("not_said"), spinal_disease=None)).missing == (
        "stone location",
        "spina bifida or spinal injury",
    )


def test_a_missing_input_that_could_not_change_the_grade_is_of_no_matter() -> None:
    assert value("guys", side(stone("complete_staghorn"), anatomy=None, spinal_disease=None)) == 4
    assert value("guys", side(stone("not_said"), anatomy=None, spinal_disease="yes")) == 4


def test_a_stone_outside_the_kidney_is_outside_the_score() -> None:
    found = score_of("guys", side(stone(), stone("distal_ureter")))
    assert (found.state, found.value, found.missing) == ("outside", None, ())


def test_no_stones_and_a_later_stage_that_names_none_are_not_computable() -> None:
    from dataclasses import replace

    assert score_of("guys", replace(side(), stones=())).missing == ("stones",)
    assert score_of("guys", side(stones_settled=False)).missing == ("stones aimed at in this stage",)
