"""The S.T.O.N.E. score of ureteroscopy: the published model from a total; the total itself cannot be worked out here.

Molina WR et al., Int Braz J Urol 2014;40:23-29: size, topography, obstruction, number, evaluation of density, 1 to 3
points each, total 5 to 15; n = 200. Which measure gives which points is not known surely enough to be coded, and the
registry has no field for a total as somebody else worked it out, so that no side has one.
"""

from __future__ import annotations

import math

CODE, NAME, VERSION = "stone_ureteroscopy", "S.T.O.N.E. score of ureteroscopy", "stone-ureteroscopy-1"
SOURCE = "Molina WR et al., Int Braz J Urol 2014;40:23-29 (model seen)"
WHY_NONE = (
    f"{NAME}: not computable for any side. Its bands of points are not coded, because they could not be checked, and "
    "the registry holds no total as entered. Its published model from a total is there for those who have one."
)
LOWEST, HIGHEST = 5, 15
INTERCEPT, SLOPE = 7.02, -0.57


def probability_free(total: float) -> float:
    """Probability of being stone-free from the total: 1 / (1 + exp(-z)), z = 7.02 - 0.57 x total.

    The printed model, not mended: at 9 it gives 86.9 %, where the abstract speaks of over 90 % observed.
    Raises ValueError for a total that is no whole number from 5 to 15.
    """
    if not (LOWEST <= total <= HIGHEST and float(total).is_integer()):
        raise ValueError(f"A total of {total:g} cannot be: five items of 1 to 3 points give {LOWEST} to {HIGHEST}.")
    return 1 / (1 + math.exp(-(INTERCEPT + SLOPE * total)))
