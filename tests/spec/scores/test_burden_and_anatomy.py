"""Stone burden of a side, with how volume and density were got; the lower pole, each cut with its own method."""

from __future__ import annotations

import math

import pandas as pd
import pytest

from analysis.outcomes.anatomy import lower_pole
from analysis.outcomes.burden import area_mm2, ellipsoid_mm3, side_burden

NAN = float("nan")


def stones(*rows: dict[str, object]) -> pd.DataFrame:
    whole = {"side_id": 1, "length_mm": 14.0, "width_mm": 9.0, "depth_mm": 8.0, "volume_mm3": NAN,
             "attenuation_hu": 900, "attenuation_method": "mean_region"}  # fmt: skip
    return pd.DataFrame([{**whole, "stone_number": at, **row} for at, row in enumerate(rows, start=1)])


def test_one_stone() -> None:
    # 14 x 9 mm: 98.96 mm2 by L x W x pi/4; with 8 mm depth 527.8 mm3 by pi/6 x L x W x D (worked out by hand).
    assert area_mm2(14, 9) == pytest.approx(98.96, abs=0.005)
    assert ellipsoid_mm3(14, 9, 8) == pytest.approx(527.8, abs=0.05)
    (row,) = side_burden(stones({})).to_dict("records")
    assert (row["area_mm2"], row["ellipsoid_mm3"]) == pytest.approx((98.96, 527.8), abs=0.05)
    assert (row["volume_mm3"], row["volume_method"]) == (row["ellipsoid_mm3"], "ellipsoid")
    assert math.isnan(row["segmented_mm3"])
    assert (row["density_hu"], row["density_method"]) == (900, "mean_region")


def test_a_sphere_is_the_ellipsoid_of_three_equal_diameters() -> None:
    assert ellipsoid_mm3(10, 10, 10) == pytest.approx(math.pi / 6 * 1000)


def test_several_stones_add_up_and_volumes_are_told_apart() -> None:
    (row,) = side_burden(stones({}, {"length_mm": 5.0, "volume_mm3": 60.0, "depth_mm": NAN})).to_dict("records")
    assert (row["stone_count"], row["largest_mm"], row["cumulative_mm"]) == (2, 14.0, 19.0)
    assert (row["volume_mm3"], row["volume_method"]) == (pytest.approx(527.79 + 60.0, abs=0.01), "both")
    assert math.isnan(row["ellipsoid_mm3"]) and math.isnan(row["segmented_mm3"])
    (alone,) = side_burden(stones({"volume_mm3": 500.0})).to_dict("records")
    assert (alone["volume_mm3"], alone["segmented_mm3"], alone["volume_method"]) == (500.0, 500.0, "segmented")


def test_a_measure_that_one_stone_lacks_is_missing_and_the_others_stay() -> None:
    (row,) = side_burden(stones({}, {"length_mm": NAN})).to_dict("records")
    for name in ("largest_mm", "cumulative_mm", "area_mm2", "volume_mm3", "density_hu"):
        assert math.isnan(row[name]), name
    assert row["volume_method"] is None or pd.isna(row["volume_method"])
    (row,) = side_burden(stones({}, {"width_mm": NAN})).to_dict("records")
    assert (row["cumulative_mm"], row["density_hu"]) == (28.0, 900)
    assert math.isnan(row["area_mm2"])


def pole(**more: object) -> dict[str, object]:
    row = {"side_id": 1, "infundibulopelvic_angle_deg": 75, "angle_method": "ureteropelvic_axis",
           "infundibular_length_mm": 29.0, "infundibular_width_mm": 6.0, **more}  # fmt: skip
    return dict(lower_pole(pd.DataFrame([row])).iloc[0])


def test_a_favourable_lower_pole() -> None:
    found = pole()
    names = ("angle_favourable", "length_favourable", "width_favourable")
    assert [found[name] for name in names] == ["yes"] * 3
    edge = pole(infundibulopelvic_angle_deg=70, infundibular_length_mm=30.0, infundibular_width_mm=5.0)
    assert [edge[name] for name in names] == ["no"] * 3


@pytest.mark.parametrize("method", ["pelvis_infundibulum", "retrograde", "other", None])
def test_the_cut_of_the_angle_is_never_applied_to_another_method(method: str | None) -> None:
    found = pole(angle_method=method)
    assert found["angle_favourable"] is None
    assert found["angle_method"] == (method or "not recorded")
    assert found["angle_deg"] == 75


def test_nothing_recorded_is_neither_yes_nor_no() -> None:
    found = pole(infundibulopelvic_angle_deg=NAN, infundibular_length_mm=NAN, infundibular_width_mm=NAN)
    assert [found[n] for n in ("angle_favourable", "length_favourable", "width_favourable", "angle_method")] == [
        None
    ] * 4
