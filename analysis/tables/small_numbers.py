"""The one door at which a rate from too few is withheld from what people read and pass on.

Counts stay; only the rate, and what is derived from it, is replaced by `n < 5` (or the unit's own number).
"""

from __future__ import annotations

DEFAULT = 5


def too_few(n: float, small_number: int = DEFAULT) -> bool:
    """Whether n is above 0 and below the number from which rates are shown."""
    return 0 < n < small_number


def withheld(small_number: int = DEFAULT) -> str:
    """What stands in the place of a rate."""
    return f"n < {small_number}"
