"""Modified S-ReSC, the Resorlu-Unsal score and R.I.R.S."""

from __future__ import annotations

import pytest

from registry.schema.lists_stone import StoneSite

from .given import points, score_of, side, stone, value


def test_inferior_sites_count_twice_and_the_range_is_1_to_12() -> None:
    assert value("modified_s_resc", side(stone("upper_calyx"))) == 1
    assert value("modified_s_resc", side(stone("lower_calyx"))) == 2
    every = tuple(site.value for site in StoneSite)
    assert value("modified_s_resc", side(stone("complete_staghorn", *every))) == 12


def test_each_of_four_things_gives_a_point() -> None:
    assert value("resorlu_unsal", side()) == 0
    assert points("resorlu_unsal", side(stone(length_mm=20.0)))["size"] == (0, 0)
    assert points("resorlu_unsal", side(stone(length_mm=12.0), stone(length_mm=8.5)))["size"] == (1, 1)
    assert points("resorlu_unsal", side(stone("lower_calyx"), angle_deg=45.0))["lower pole"] == (0, 0)
    assert points("resorlu_unsal", side(stone("lower_calyx"), angle_deg=44.0))["lower pole"] == (1, 1)
    assert points("resorlu_unsal", side(stone("upper_calyx"), stone("middle_calyx")))["calyces"] == (1, 1)
    assert points("resorlu_unsal", side(stone("upper_calyx"), stone("upper_calyx")))["calyces"] == (0, 0)
    worst = side(
        stone("lower_calyx", length_mm=15.0), stone("upper_calyx", length_mm=15.0), angle_deg=30.0, anatomy="pelvic"
    )
    assert value("resorlu_unsal", worst) == 4


@pytest.mark.parametrize(
    ("anatomy", "point"), [("normal", 0), ("horseshoe", 1), ("pelvic", 1), ("malrotated", 0), ("duplex", 0)]
)
def test_only_horseshoe_and_pelvic_kidneys_are_abnormal_to_it(anatomy: str, point: int) -> None:
    assert points("resorlu_unsal", side(anatomy=anatomy))["anatomy"] == (point, point)


def test_the_angle_is_asked_for_only_when_a_stone_may_lie_in_the_lower_pole() -> None:
    assert value("resorlu_unsal", side(stone("upper_calyx"), angle_deg=None)) == 0
    found = score_of("resorlu_unsal", side(stone("lower_calyx"), angle_deg=None))
    assert (found.state, found.low, found.high, found.missing) == ("not computable", 0, 1, ("infundibulopelvic angle",))
    assert value("resorlu_unsal", side(stone("diverticulum"), angle_deg=50.0)) == 0


def test_a_staghorn_lies_in_the_lower_pole_whether_or_not_its_sites_are_recorded() -> None:
    case = side(stone("complete_staghorn"), angle_deg=40.0)
    assert points("resorlu_unsal", case)["lower pole"] == (1, 1)
    assert points("resorlu_unsal", side(stone("partial_staghorn"), angle_deg=40.0))["lower pole"] == (0, 1)


def test_a_length_that_could_not_bring_it_below_the_cut_is_not_missed() -> None:
    assert value("resorlu_unsal", side(stone(length_mm=21.0), stone(length_mm=None))) == 1
    assert score_of("resorlu_unsal", side(stone(length_mm=19.0), stone(length_mm=None))).missing == ("stone length",)


@pytest.mark.parametrize(("angle", "of"), [(31.0, 2), (30.0, 3)])
def test_an_inferior_stone_by_its_angle(angle: float, of: int) -> None:
    assert points("rirs", side(stone("lower_calyx"), angle_deg=angle))["lower pole"] == (of, of)
    assert points("rirs", side(stone("upper_calyx"), angle_deg=angle))["lower pole"] == (1, 1)


@pytest.mark.parametrize(("length", "of"), [(10.0, 1), (10.5, 2), (20.0, 2), (20.5, 3)])
def test_burden_is_the_summed_diameter(length: float, of: int) -> None:
    assert points("rirs", side(stone(length_mm=length)))["burden"] == (of, of)
    assert points("rirs", side(stone(length_mm=length - 4), stone(length_mm=4.0)))["burden"] == (of, of)


def test_the_range_is_4_to_10() -> None:
    assert value("rirs", side(infundibular_length_mm=25.0)) == 4
    worst = stone("lower_calyx", length_mm=25.0, attenuation_hu=1001.0)
    assert value("rirs", side(worst, angle_deg=20.0, infundibular_length_mm=26.0)) == 10


def test_infundibular_length_is_needed_wherever_the_stone_lies() -> None:
    assert score_of("rirs", side(infundibular_length_mm=None)).missing == ("infundibular length",)
