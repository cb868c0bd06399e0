"""The published bands of the scope-to-sheath ratio, and the ratio itself, by whole numbers.

Bands: under 0.75, 0.75 to under 0.85, 0.85 and over, closed below; the split at 0.85, closed above, is a second
version of its own. Source: two-centre series of 243, Journal of Endourology 2026, doi 10.1177/08927790261451791 (bands
and split); the bound of 0.75 from a porcine model, Fang and others, Journal of Endourology 2019 (from memory). The
published middle band and split leave exactly 0.85 open; here it lies in the upper band and in the lower part of the
split. The cohort's SQL follows the same rule (`analysis/cohort/sql/equipment.py`; a test compares them).
"""

from __future__ import annotations

from fractions import Fraction

from analysis.outcomes.fit.size import Size

UNDER, MIDDLE, OVER = "under 0.75", "0.75 to under 0.85", "0.85 and over"
BANDS = (UNDER, MIDDLE, OVER)
SPLIT = ("0.85 and under", "over 0.85")
BAND_LIMITS = (0.75, 0.85)
"""The limits on the scope-to-sheath ratio; on its reciprocal they are 4/3 and 20/17."""
RECIPROCAL = (
    "The bands are on the scope-to-sheath ratio, the reciprocal of the sheath-to-scope ratio; they are not linear "
    "in the sheath-to-scope ratio."
)
BAND_SOURCE = "Journal of Endourology 2026, doi 10.1177/08927790261451791"
BAND_ID = "scope-to-sheath-bands-1"
SPLIT_ID = "scope-to-sheath-split-0.85-1"


def band_of(scope: Fraction | int, sheath: Fraction | int) -> str:
    """The band of a scope in a sheath's inner diameter, both in one unit (whole tenths of Fr as a rule).

    Raises ValueError unless 0 < scope < sheath.
    """
    _possible(scope, sheath)
    if 100 * scope < 75 * sheath:
        return UNDER
    return MIDDLE if 100 * scope < 85 * sheath else OVER


def split_of(scope: Fraction | int, sheath: Fraction | int) -> str:
    """The second version: 0.85 and under against over 0.85. Raises ValueError unless 0 < scope < sheath."""
    _possible(scope, sheath)
    return SPLIT[0] if 100 * scope <= 85 * sheath else SPLIT[1]


def scope_to_sheath(scope: Size, sheath: Size) -> Fraction:
    """Scope shaft over sheath inner diameter, exactly. Raises ValueError unless scope < sheath."""
    _possible(scope.mm, sheath.mm)
    return scope.mm / sheath.mm


def _possible(scope: Fraction | int, sheath: Fraction | int) -> None:
    if not 0 < scope < sheath:
        raise ValueError("A scope has a diameter above 0 and below the sheath's inner diameter.")
