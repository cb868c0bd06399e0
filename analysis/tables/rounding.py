"""How many digits a reader is shown. Nothing is rounded before this door, and nothing is computed after it."""

from __future__ import annotations

import math

NOTHING = "-"
"""Stands where there is no number."""


def known(value: float | None) -> bool:
    """Whether there is a number to show."""
    return value is not None and math.isfinite(value)


def signless(text: str) -> str:
    """A number as written, without a sign where all of its digits are 0: a rounded `-0.0` is `0.0`."""
    return text if any(digit in text for digit in "123456789") else text.lstrip("+-")


def number(value: float | None, digits: int = 1) -> str:
    """A number with that many decimals and its thousands set apart."""
    return signless(f"{value:,.{digits}f}") if value is not None and math.isfinite(value) else NOTHING


def percent(value: float | None) -> str:
    """A share as a percentage with one decimal; only exactly none and all are 0 % and 100 %."""
    if value is None or not math.isfinite(value):
        return NOTHING
    if value in (0.0, 1.0):
        return f"{abs(100 * value):.0f} %"
    return f"{min(max(100 * value, 0.1), 99.9):.1f} %"


def percent_range(low: float | None, high: float | None) -> str:
    """Two limits of a share, `78.0 to 87.9`, in percent."""
    if low is None or high is None or not (math.isfinite(low) and math.isfinite(high)):
        return NOTHING
    return f"{signless(f'{100 * low:.1f}')} to {signless(f'{100 * high:.1f}')}"


def points(value: float | None) -> str:
    """A difference of two shares in percentage points, with its sign; without one where it rounds to 0."""
    return signless(f"{100 * value:+.1f}") if value is not None and math.isfinite(value) else NOTHING


def points_range(low: float | None, high: float | None) -> str:
    """Two limits of a difference, in percentage points."""
    return f"{points(low)} to {points(high)}" if known(low) and known(high) else NOTHING


def ratio(value: float | None) -> str:
    """A ratio to three significant digits, at least two decimals."""
    if value is None or not math.isfinite(value):
        return NOTHING
    return f"{value:.3g}" if value and (value < 0.1 or value >= 1000) else signless(f"{value:.2f}")


def ratio_range(low: float | None, high: float | None) -> str:
    """Two limits of a ratio."""
    return f"{ratio(low)} to {ratio(high)}" if known(low) and known(high) else NOTHING


def p_value(value: float) -> str:
    """`p = 0.325`, or `p < 0.001`."""
    return "p < 0.001" if value < 0.001 else f"p = {value:.3f}"
