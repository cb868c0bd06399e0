"""Shares that were seen, against shares that are true."""

from __future__ import annotations

import math


def assert_share(seen: int, of: int, true: float, *, spreads: float = 4.5) -> None:
    """What was seen lies within so many standard errors of the true share."""
    error = math.sqrt(max(true * (1 - true), 1e-9) / of)
    assert abs(seen / of - true) <= spreads * error, (seen, of, true)
