"""S.T.O.N.E. nephrolithometry and S-ReSC."""

from __future__ import annotations

import pytest

from .given import points, score_of, side, stone, value


@pytest.mark.parametrize(
    ("length", "width", "size"),
    [(19.95, 20.0, 1), (20.0, 20.0, 2), (39.9, 20.0, 2), (40.0, 20.0, 3), (79.9, 20.0, 3), (80.0, 20.0, 4)],
)
def test_size_is_length_by_width_and_each_cut_begins_its_class(length: float, width: float, size: int) -> None:
    assert points("stone", side(stone(length_mm=length, width_mm=width)))["size"] == (size, size)


def test_size_is_added_up_over_the_stones() -> None:
    assert points("stone", side(*[stone(length_mm=20.0, width_mm=10.0)] * 4))["size"] == (3, 3)


@pytest.mark.parametrize(("name", "at", "over"), [("skin_to_stone_mm", 100.0, 101.0), ("attenuation_hu", 950.0, 951.0)])
def test_tract_and_density_count_above_their_cut(name: str, at: float, over: float) -> None:
    item = {"skin_to_stone_mm": "tract", "attenuation_hu": "density"}[name]
    assert points("stone", side(stone(**{name: at})))[item] == (1, 1)
    assert points("stone", side(stone(**{name: over})))[item] == (2, 2)


def test_density_is_that_of_the_largest_stone() -> None:
    small, large = stone(length_mm=5.0, attenuation_hu=1400.0), stone(length_mm=9.0, attenuation_hu=500.0)
    assert points("stone", side(small, large))["density"] == (1, 1)
    unsized = stone(length_mm=None, attenuation_hu=1400.0)
    assert points("stone", side(unsized, large))["density"] == (1, 2)
    assert points("stone", side(small, stone(length_mm=5.0, attenuation_hu=500.0)))["density"] == (2, 2)


@pytest.mark.parametrize(("degree", "of"), [("none", 1), ("mild", 1), ("moderate", 2), ("severe", 2)])
def test_obstruction(degree: str, of: int) -> None:
    assert points("stone", side(hydronephrosis=degree))["obstruction"] == (of, of)


def test_calyces_three_or_more_give_two_points_and_a_complete_staghorn_three() -> None:
    assert points("stone", side(stone("pelvis")))["calyces"] == (1, 1)
    two = (stone("upper_calyx"), stone("lower_calyx"))
    assert points("stone", side(*two))["calyces"] == (1, 1)
    assert points("stone", side(*two, stone("middle_calyx")))["calyces"] == (2, 2)
    assert points("stone", side(stone("complete_staghorn")))["calyces"] == (3, 3)
    assert points("stone", side(stone("partial_staghorn")))["calyces"] == (1, 2)
    assert points("stone", side(stone("not_said")))["calyces"] == (1, 3)


def test_the_range_is_5_to_13() -> None:
    assert value("stone", side()) == 5
    worst = stone("complete_staghorn", length_mm=60.0, width_mm=40.0, skin_to_stone_mm=120.0, attenuation_hu=1200.0)
    assert value("stone", side(worst, hydronephrosis="severe")) == 13


def test_what_is_missing_is_named() -> None:
    case = side(stone(skin_to_stone_mm=None, attenuation_hu=None, width_mm=None), hydronephrosis=None)
    found = score_of("stone", case)
    assert found.missing == ("stone width", "skin-to-stone distance", "hydronephrosis", "attenuation")
    assert (found.state, found.low, found.high) == ("not computable", 5, 11)


def test_sites_are_counted_once_each() -> None:
    assert value("s_resc", side(stone("pelvis"))) == 1
    assert value("s_resc", side(stone("pelvis"), stone("pelvis"))) == 1
    filled = stone("partial_staghorn", "pelvis", "inferior_major", "inferior_anterior")
    assert value("s_resc", side(filled, stone("upper_calyx", face="anterior"))) == 4


def test_one_stone_in_a_calyx_needs_no_face_and_two_do() -> None:
    assert value("s_resc", side(stone("lower_calyx"))) == 1
    two = score_of("s_resc", side(stone("lower_calyx"), stone("lower_calyx")))
    assert (two.low, two.high, two.missing) == (1, 2, ("calyx face or sites filled",))
    faced = side(stone("lower_calyx", face="anterior"), stone("lower_calyx", face="posterior"))
    assert value("s_resc", faced) == 2


def test_a_staghorn_needs_its_sites() -> None:
    assert score_of("s_resc", side(stone("complete_staghorn"))).missing == ("sites filled",)
    assert (score_of("s_resc", side(stone("complete_staghorn"))).low) == 4
    assert value("s_resc", side(stone("complete_staghorn", *_all()))) == 9


def _all() -> tuple[str, ...]:
    from registry.schema.lists_stone import StoneSite

    return tuple(site.value for site in StoneSite)
