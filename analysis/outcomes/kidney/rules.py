"""What a unit may set about kidney function."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class KidneyRules:
    """Which values are taken.

    baseline_days: how long before the operation the last value may lie. first_day, last_day: days after it that may
    hold the later value. target_day: the value nearest to it is taken (the later of two as near); None takes the last.
    """

    baseline_days: int = 90
    first_day: int = 14
    last_day: int = 365
    target_day: int | None = 30
