"""Stone burden of a side."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from tests.cohort.rows import Rows


def of_course(rows: Rows, *stones: dict[str, Any]) -> tuple[int, list[int]]:
    """A side that begins a course with these stones."""
    unit = rows.unit()
    course = rows.add("course", renal_unit_id=unit)
    side = rows.side(unit, course_id=course, stage_number=0)
    return side, [rows.add("stone", course_id=course, **stone) for stone in stones]


def test_measures_add_up_over_the_stones(rows: Rows, folder: Path) -> None:
    side, _ = of_course(
        rows,
        {"length_mm": 14.0, "width_mm": 9.0, "depth_mm": 8.0, "attenuation_hu": 900, "location": "pelvis"},
        {"length_mm": 5.0, "width_mm": 4.0, "volume_mm3": 60.0, "attenuation_hu": 500, "location": "upper_calyx"},
    )
    row = rows.row(folder, side)
    assert row["stone_count"] == 2
    assert row["largest_mm"] == 14.0
    assert row["cumulative_mm"] == 14.0 + 5.0
    assert row["area_mm2"] == pytest.approx((14 * 9 + 5 * 4) * math.pi / 4, rel=1e-12)
    # The second was segmented, the first is an ellipsoid.
    assert row["volume_mm3"] == pytest.approx(14 * 9 * 8 * math.pi / 6 + 60, rel=1e-12)
    assert row["density_hu"] == 900
    assert row["locations"] == "upper_calyx+pelvis"


@pytest.mark.parametrize(
    ("lacking", "measures"),
    [
        ("length_mm", ["largest_mm", "cumulative_mm", "area_mm2", "volume_mm3", "density_hu"]),
        ("width_mm", ["area_mm2", "volume_mm3"]),
        ("depth_mm", ["volume_mm3"]),
    ],
)
def test_a_measure_is_missing_when_that_of_one_stone_is(
    rows: Rows, folder: Path, lacking: str, measures: list[str]
) -> None:
    whole = {"length_mm": 8.0, "width_mm": 6.0, "depth_mm": 5.0, "attenuation_hu": 700}
    side, _ = of_course(rows, whole, {name: value for name, value in whole.items() if name != lacking})
    row = rows.row(folder, side)
    known = ["largest_mm", "cumulative_mm", "area_mm2", "volume_mm3", "density_hu"]
    assert [name for name in known if pd.isna(row[name])] == measures
    assert row["stone_count"] == 2


def test_density_is_that_of_the_largest_stone_even_when_it_is_missing(rows: Rows, folder: Path) -> None:
    side, _ = of_course(rows, {"length_mm": 12.0}, {"length_mm": 4.0, "attenuation_hu": 500})
    assert pd.isna(rows.row(folder, side)["density_hu"])


def test_a_sole_stone_needs_no_length_to_be_the_largest(rows: Rows, folder: Path) -> None:
    side, _ = of_course(rows, {"attenuation_hu": 640})
    assert rows.row(folder, side)["density_hu"] == 640


def test_a_side_without_recorded_stones_has_no_count(rows: Rows, folder: Path) -> None:
    side, _ = of_course(rows)
    assert pd.isna(rows.row(folder, side)["stone_count"])


def test_stones_aimed_at_go_before_those_of_the_course(rows: Rows, folder: Path) -> None:
    side, (first, _) = of_course(rows, {"length_mm": 12.0}, {"length_mm": 20.0})
    rows.add("stone_aim", treated_side_id=side, stone_id=first, aim="aimed_at")
    assert rows.row(folder, side)["cumulative_mm"] == 12.0


@pytest.mark.parametrize(("said", "left"), [("yes", 12.0), ("no", 12.0 + 20.0), (None, 12.0 + 20.0)])
def test_a_stone_left_on_purpose_is_no_burden_if_that_was_said_before_access(
    rows: Rows, folder: Path, said: str | None, left: float
) -> None:
    side, (_, second) = of_course(rows, {"length_mm": 12.0}, {"length_mm": 20.0})
    rows.add("stone_aim", treated_side_id=side, stone_id=second, aim="left_on_purpose", recorded_before_access=said)
    assert rows.row(folder, side)["cumulative_mm"] == left


@pytest.mark.parametrize(
    ("stones", "lower", "lucent"),
    [
        ([{"location": "lower_calyx", "radio_opacity": "opaque"}, {"radio_opacity": None}], "yes", None),
        ([{"location": "pelvis", "radio_opacity": "lucent"}, {}], None, "yes"),
        ([{"location": "pelvis", "radio_opacity": "faint"}], "no", "no"),
        ([{"location": "not_said"}], None, None),
        ([{"location": "complete_staghorn"}], "yes", None),
        ([{"location": "partial_staghorn"}], None, None),
        ([{"location": "diverticulum"}], None, None),
    ],
)
def test_lower_pole_and_radiolucent(
    rows: Rows, folder: Path, stones: list[dict[str, Any]], lower: str | None, lucent: str | None
) -> None:
    side, _ = of_course(rows, *stones)
    row = rows.row(folder, side)
    assert [None if pd.isna(row[name]) else row[name] for name in ("any_lower_pole", "any_radiolucent")] == [
        lower,
        lucent,
    ]


def test_a_stone_that_fills_an_inferior_site_lies_in_the_lower_pole(rows: Rows, folder: Path) -> None:
    side, (stone,) = of_course(rows, {"location": "partial_staghorn"})
    rows.add("filled_site", stone_id=stone, site_filled="inferior_posterior")
    assert rows.row(folder, side)["any_lower_pole"] == "yes"


def test_sites_filled_elsewhere_settle_that_a_staghorn_does_not_reach_the_lower_pole(rows: Rows, folder: Path) -> None:
    side, (stone,) = of_course(rows, {"location": "partial_staghorn"})
    rows.add("filled_site", stone_id=stone, site_filled="pelvis")
    assert rows.row(folder, side)["any_lower_pole"] == "no"


@pytest.mark.parametrize(
    ("stones", "method"),
    [
        ([{"volume_mm3": 400.0}], "segmented"),
        ([{"length_mm": 10.0, "width_mm": 8.0, "depth_mm": 6.0}], "ellipsoid"),
        ([{"volume_mm3": 400.0}, {"length_mm": 10.0, "width_mm": 8.0, "depth_mm": 6.0}], "mixed"),
        ([{"volume_mm3": 400.0}, {"length_mm": 10.0}], None),
    ],
)
def test_how_a_volume_was_got_is_told(
    rows: Rows, folder: Path, stones: list[dict[str, Any]], method: str | None
) -> None:
    side, _ = of_course(rows, *stones)
    found = rows.row(folder, side)["volume_method"]
    assert (None if pd.isna(found) else found) == method
