"""The comprehensive complication index: all of a patient's complications, each by its grade, in one number to 100.

Slankamenac K, Graf R, Barkun J, Puhan MA, Clavien PA, Ann Surg 2013;258:1-7. The weights are from memory; they
reproduce the six values published for a single complication (8.7, 20.9, 26.2, 33.7, 42.4 and 46.2).
"""

from __future__ import annotations

import math
from collections.abc import Iterable

INDEX = "cci-1"
SOURCE = (
    "Slankamenac K, Graf R, Barkun J, Puhan MA, Clavien PA, Ann Surg 2013;258:1-7; weights from memory, they reproduce "
    "the published values of single complications"
)
WEIGHTS = {"I": 300, "II": 1750, "IIIa": 2750, "IIIb": 4550, "IVa": 7200, "IVb": 8550}
DEATH = "V"
MOST = 100.0


def comprehensive_index(grades: Iterable[str]) -> float:
    """The index of one patient or operation: min(100, sqrt(sum of weights) / 2).

    grades: of every complication, repeated ones each time; a suffix d has no weight and is not part of it. Any grade V
    gives 100; no complication gives 0. Raises ValueError for what is no grade.
    """
    total, died = 0, False
    for grade in grades:
        if grade == DEATH:
            died = True
        elif grade in WEIGHTS:
            total += WEIGHTS[grade]
        else:
            raise ValueError(f"{grade!r} is no grade; the index knows {', '.join(WEIGHTS)} and {DEATH}.")
    return MOST if died else min(MOST, math.sqrt(total) / 2)
