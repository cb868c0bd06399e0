"""A day that lost its format is read from its number, by the day from which its file counts; a year is none."""

from __future__ import annotations

from datetime import date

import pytest

from registry.intake.log_cells import DAY_ZERO_1900, DAY_ZERO_1904, LogCell
from registry.intake.log_day_numbers import day_for_number


@pytest.mark.parametrize(
    ("number", "day_zero", "day"),
    [
        # 30 December 1899 and 45,000 days: 123 years of 365 days, 30 leap days (1904 to 2020), 75 days more.
        (45_000, DAY_ZERO_1900, date(2023, 3, 15)),
        # The same day counted from 1 January 1904 is 1,462 days less: four years, a leap day and a day.
        (45_000 - 1_462, DAY_ZERO_1904, date(2023, 3, 15)),
        (45_000.0, DAY_ZERO_1900, date(2023, 3, 15)),
    ],
)
def test_day_number_in_either_epoch(number: float, day_zero: date, day: date) -> None:
    cell = day_for_number(LogCell(str(number), number), day_zero)
    assert cell is not None
    assert (cell.value, cell.text) == (day, "2023-03-15")


@pytest.mark.parametrize("value", [2023, 20230315, 45_000.5, "45000", True, None, -3])
def test_day_number_is_not_guessed(value: object) -> None:
    """A year, eight digits, a moment, a text, a truth value, nothing, a number below zero."""
    assert day_for_number(LogCell(str(value), value), DAY_ZERO_1900) is None  # type: ignore[arg-type]
