"""The door of rounding and of small numbers."""

from __future__ import annotations

import math

import pytest

from analysis.tables.plain_text import aligned
from analysis.tables.rounding import number, p_value, percent, percent_range, points, points_range, ratio, ratio_range
from analysis.tables.small_numbers import too_few, withheld


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.8327, "83.3 %"),
        (0.0, "0 %"),
        (1.0, "100 %"),
        (0.9999, "99.9 %"),
        (0.0001, "0.1 %"),
        (None, "-"),
        (math.nan, "-"),
    ],
)
def test_only_exactly_none_and_all_are_0_and_100_percent(value: float | None, shown: str):
    assert percent(value) == shown


def test_ranges_need_both_limits():
    assert percent_range(0.1234, 0.5) == "12.3 to 50.0"
    assert percent_range(0.1, None) == percent_range(math.nan, 0.5) == "-"
    assert points_range(-0.05, 0.1) == "-5.0 to +10.0"
    assert ratio_range(0.5, 2.0) == "0.50 to 2.00"
    assert ratio_range(0.5, None) == "-"


def test_ratios_far_from_one_keep_three_digits():
    assert [ratio(value) for value in (0.0123, 1.446, 12345.0, 0.0)] == ["0.0123", "1.45", "1.23e+04", "0.00"]


@pytest.mark.parametrize("value", [-0.0, 0.0, -0.0004, 0.0004])
def test_what_rounds_to_0_has_no_sign(value: float):
    assert points(value) == "0.0"
    assert points_range(value, 0.02) == "0.0 to +2.0"
    assert percent_range(value, value) == "0.0 to 0.0"
    assert (number(value, 0), number(value, 1)) == ("0", "0.0")
    assert percent(-0.0) == "0 %"
    assert ratio(-0.0) == ratio(0.0) == "0.00"


def test_what_does_not_round_to_0_keeps_its_sign():
    assert [points(value) for value in (-0.0006, 0.0006)] == ["-0.1", "+0.1"]
    assert [number(value, 0) for value in (-0.6, -1234.4, 1234.4)] == ["-1", "-1,234", "1,234"]
    assert number(None) == number(math.nan) == "-"
    assert ratio(-0.0004) == "-0.0004"


def test_a_p_value_is_never_0():
    assert p_value(0.00001) == "p < 0.001"
    assert p_value(0.3251) == "p = 0.325"


def test_nobody_is_not_too_few_and_the_number_itself_is_enough():
    assert [too_few(n) for n in (0, 1, 4, 5)] == [False, True, True, False]
    assert too_few(5, 10)
    assert withheld(10) == "n < 10"


def test_words_stand_left_and_numbers_right():
    assert aligned([["a", "n"], ["bcd", "10"]], left=1) == "  a     n\n  bcd  10"
