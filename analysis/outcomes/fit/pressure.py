"""Pressures in pascal, and the units that people use.

Factors: 1 mmHg = 133.322 Pa, 1 cmH2O = 98.0665 Pa (conventional millimetre of mercury and centimetre of water;
International Organization for Standardization, ISO 80000-4, 2019, from memory). So 1 mmHg = 1.35951 cmH2O.
"""

from __future__ import annotations

PASCAL_IN = {"mmHg": 133.322, "cmH2O": 98.0665, "kPa": 1000.0}
"""Pascal in one of each unit."""


def to_pascal(value: float, unit: str) -> float:
    """A pressure in Pa. Raises KeyError for a unit that is not in PASCAL_IN."""
    return value * PASCAL_IN[unit]


def from_pascal(pascal: float, unit: str) -> float:
    """A pressure given in Pa, in the unit named. Raises KeyError for a unit that is not in PASCAL_IN."""
    return pascal / PASCAL_IN[unit]
