"""How a parameter of the generator is declared: its default, its meaning, its unit and its limits."""

from __future__ import annotations

from dataclasses import field
from typing import Any


def share(default: float, about: str) -> Any:
    """A share of something, from 0 to 1."""
    return field(default=default, metadata={"about": about, "unit": "share", "low": 0.0, "high": 1.0})


def effect(default: float, about: str) -> Any:
    """A change of log odds."""
    return field(default=default, metadata={"about": about, "unit": "log odds", "low": -20.0, "high": 20.0})


def size(default: float, unit: str, low: float, high: float, about: str) -> Any:
    """A number with its unit and its limits."""
    return field(default=default, metadata={"about": about, "unit": unit, "low": low, "high": high})
