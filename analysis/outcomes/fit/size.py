"""Diameters, kept exactly: tenths of Fr, thousandths of an inch and millimetres are the same fraction of a millimetre.

1 Fr is a third of a millimetre (the diameter), 1 inch is 25.4 mm; both by definition, so nothing is ever rounded here.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

MM_IN_FR = Fraction(1, 3)
MM_IN_INCH = Fraction(254, 10)
MM_IN = {"Fr": MM_IN_FR, "mm": Fraction(1), "in": MM_IN_INCH, "um": Fraction(1, 1000)}
"""Millimetres in one of each unit of diameter."""


@dataclass(frozen=True, order=True)
class Size:
    """One diameter, in millimetres, as an exact fraction."""

    mm: Fraction

    def __post_init__(self) -> None:
        if self.mm <= 0:
            raise ValueError("A diameter is above 0.")

    @property
    def fr(self) -> Fraction:
        """In Fr, exactly."""
        return self.mm / MM_IN_FR

    @property
    def inch(self) -> Fraction:
        """In inches, exactly."""
        return self.mm / MM_IN_INCH

    @property
    def tenths_fr(self) -> int | None:
        """Whole tenths of Fr, as the registry keeps a size; None when it is not a whole number of them."""
        return _whole(self.fr * 10)

    @property
    def thousandths_inch(self) -> int | None:
        """Whole thousandths of an inch, as the registry keeps a wire; None when it is not a whole number of them."""
        return _whole(self.inch * 1000)

    def in_fr(self) -> str:
        """In Fr for people, at most two decimals: `7.5`."""
        return f"{float(self.fr):.2f}".rstrip("0").rstrip(".")


def of_tenths_fr(tenths: int) -> Size:
    """A size from whole tenths of Fr. Raises ValueError for 0 or less."""
    return Size(Fraction(tenths, 10) * MM_IN_FR)


def of_thousandths_inch(thousandths: int) -> Size:
    """A size from whole thousandths of an inch. Raises ValueError for 0 or less."""
    return Size(Fraction(thousandths, 1000) * MM_IN_INCH)


def of_number(number: str, unit: str) -> Size:
    """A size from a decimal number as text and a unit of `MM_IN`. Raises ValueError for 0, KeyError for the unit."""
    return Size(Fraction(number) * MM_IN[unit])


def _whole(value: Fraction) -> int | None:
    return int(value) if value.denominator == 1 else None
