"""Splitting by columns: cuts, missing values, two columns, units larger than a side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analysis.outcomes.definition import Definition
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.grouping import Grouping, grouped
from analysis.reports.request.splits import Split, parse_contrast, parse_splits
from analysis.reports.stone_free.packed import packed
from analysis.reports.stone_free.references import with_references
from registry.schema.errors import GravelbookError

from .made import FAILED, FREE, OUT, placed, sides_of, statuses, unit


def split(
    by: str, *, results: tuple[tuple[str, str], ...] = (FREE, FREE), count: int = 5, **columns: object
) -> Grouping:
    frame = statuses([unit(*results)] * count)
    sides = sides_of(frame, **columns)  # type: ignore[arg-type]
    return grouped(*placed(packed(frame)), sides, parse_splits(by, option="--by", at_most=2))


@pytest.mark.parametrize("text", ["largest_mm:10,20", "largest_mm:10:20"])
def test_cuts_are_written_after_a_colon_with_commas_or_colons(text: str):
    assert parse_splits(text, option="--by", at_most=2) == (Split("largest_mm", (10.0, 20.0)),)


def test_numbers_belong_to_the_column_before_them_and_a_name_begins_the_next():
    found = parse_splits("largest_mm:10,20,operator", option="--by", at_most=2)
    assert found == (Split("largest_mm", (10.0, 20.0)), Split("operator"))
    assert parse_splits("operator, largest_mm:7.5", option="--by", at_most=2) == (
        Split("operator"),
        Split("largest_mm", (7.5,)),
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "cannot be read"),
        ("operator,5", "cannot be read at '5'"),
        ("largest_mm:ten", "'ten' is no number"),
        ("largest_mm:20,10", "must rise"),
        ("largest_mm:10,10", "must rise"),
        ("operator,operator", "twice"),
        ("operator,year,site", "at most 2"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(text: str, said: str):
    with pytest.raises(MalformedOptionError, match=said):
        parse_splits(text, option="--by", at_most=2)


@pytest.mark.parametrize("text", ["technique", "technique=a", "technique=a,b,c", "technique=a,a", "=a,b"])
def test_a_comparison_needs_a_column_and_two_different_groups(text: str):
    with pytest.raises(MalformedOptionError, match="--compare"):
        parse_contrast(text)


def test_a_value_equal_to_a_cut_belongs_to_the_group_above_it():
    made = split("largest_mm:10,20", largest_mm=[9.99, 10.0, 19.9, 20.0, np.nan])
    assert made.named() == ["under 10 mm", "10 to under 20 mm", "20 mm and over", "not recorded"]
    assert made.codes.tolist() == [0, 1, 1, 2, 3]


def test_every_stretch_between_cuts_is_shown_be_it_empty_and_missing_only_if_it_occurs():
    made = split("largest_mm:10,20", largest_mm=[1.0, 2.0, 3.0, 4.0, 5.0])
    assert made.named() == ["under 10 mm", "10 to under 20 mm", "20 mm and over"]


def test_one_cut_makes_two_groups_and_whole_numbers_that_may_be_missing_are_numbers():
    made = split("age_years:50", age_years=pd.array([49, 50, None, 80, 20], dtype="Int64"))
    assert made.named() == ["under 50 years", "50 years and over", "not recorded"]
    assert made.codes.tolist() == [0, 1, 2, 1, 0]


def test_missing_is_a_group_of_its_own_and_stands_last():
    made = split("operator", operator=["S10", "S2", None, "S2", "not recorded"])
    assert made.named() == ["S2", "S10", "not recorded"]
    assert made.codes.tolist() == [1, 0, 2, 0, 2]


def test_codes_keep_the_order_of_their_list():
    grade = pd.Categorical(["senior", "junior", None, "senior", "junior"], categories=["senior", "middle", "junior"])
    assert split("grade", grade=grade).named() == ["senior", "junior", "not recorded"]


def test_two_columns_show_the_pairs_that_occur():
    made = split("operator,year", operator=["A", "A", "B", "B", "B"], year=[2024, 2025, 2025, 2025, 2025])
    assert made.as_dicts() == [
        {"operator": "A", "year": 2024},
        {"operator": "A", "year": 2025},
        {"operator": "B", "year": 2025},
    ]
    assert made.codes.tolist() == [0, 1, 2, 2, 2]


def test_a_group_with_nobody_inside_the_denominator_is_not_shown():
    frame = statuses([unit(FREE, FREE), unit(OUT, OUT)])
    made = grouped(*placed(packed(frame)), sides_of(frame, operator=["A", "B"]), [Split("operator")])
    assert made.named() == ["A"]
    assert made.codes.tolist() == [0, -1]


def test_an_unknown_column_is_refused_with_the_nearest_names():
    with pytest.raises(GravelbookError, match=r"'operater' is no column of the cohort.*operator"):
        split("operater", operator=["A"] * 5)


def test_cuts_of_a_column_that_holds_no_numbers_are_refused():
    with pytest.raises(GravelbookError, match="'operator' holds no numbers"):
        split("operator:10", operator=["A"] * 5)


def bilateral(**columns: object) -> pd.DataFrame:
    """Three sides of operation 9, of which 1 was a drainage."""
    return pd.DataFrame(
        {
            "side_id": [1, 2, 3],
            "operation_id": [9, 9, 9],
            "intent": ["drainage", "stone_removal", "stone_removal"],
            "conduct": ["completed", "completed", None],
            "access_failed": [False, False, None],
            "in_cohort": [True, True, True],
            "largest_mm": [1.0, 12.0, 30.0],
            **columns,
        }
    ).astype({"access_failed": "boolean", "in_cohort": "boolean"})


@pytest.mark.parametrize(
    ("columns", "denominator", "speaks"),
    [
        ({}, "intended", 2),
        ({"in_cohort": [True, False, True]}, "intended", 3),
        ({"conduct": ["completed", "abandoned", None]}, "intended", 2),
        ({"conduct": ["completed", "abandoned", None]}, "protocol", 3),
        ({"access_failed": [False, True, None]}, "protocol", 3),
    ],
)
def test_an_operation_stands_in_one_group_whichever_of_its_sides_decides(
    columns: dict[str, object], denominator: str, speaks: int
):
    frame = statuses([unit(FAILED, FREE, operation=9, sides=(2, 3))])
    sides = bilateral(**columns)
    units = with_references(packed(frame), sides, Definition(unit="operation", denominator=denominator))
    assert units.side_id.tolist() == [speaks]
    assert grouped(*placed(units), sides, [Split("largest_mm", (10.0, 20.0))]).codes.tolist() == [speaks - 1]


def test_a_course_is_grouped_by_the_side_its_row_names():
    frame = statuses([unit(FREE, FREE, sides=(3, 3), operation=9)])
    assert with_references(packed(frame), bilateral(), Definition(unit="course")).side_id.tolist() == [3]


def test_a_unit_whose_side_is_not_in_the_frame_is_a_fault_of_the_caller():
    frame = statuses([unit(FREE, FREE)])
    with pytest.raises(ValueError, match="1 units have a side of reference"):
        grouped(
            *placed(replace(packed(frame), side_id=np.array([99]))),
            sides_of(frame, operator=["A"]),
            [Split("operator")],
        )
