"""A scope in a sheath: ratio, reciprocal, bands, gap and free area."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from analysis.outcomes.fit.bands import band_of, split_of
from analysis.outcomes.fit.size import Size


@dataclass(frozen=True)
class Pair:
    """A scope's shaft in a sheath's inner diameter. Raises ValueError unless the scope is the smaller."""

    scope: Size
    sheath: Size

    def __post_init__(self) -> None:
        if self.scope >= self.sheath:
            raise ValueError("The scope's shaft has to be smaller than the sheath's inner diameter.")

    @property
    def sheath_to_scope(self) -> Fraction:
        """The sheath-to-scope ratio, above 1."""
        return self.sheath.mm / self.scope.mm

    @property
    def scope_to_sheath(self) -> Fraction:
        """Its reciprocal, kappa, below 1."""
        return self.scope.mm / self.sheath.mm

    @property
    def kappa(self) -> float:
        """The scope-to-sheath ratio as the flow formulas take it."""
        return float(self.scope_to_sheath)

    @property
    def band(self) -> str:
        """Published band of the scope-to-sheath ratio."""
        return band_of(self.scope.mm, self.sheath.mm)

    @property
    def split(self) -> str:
        """The second published version, at 0.85."""
        return split_of(self.scope.mm, self.sheath.mm)

    @property
    def gap_mm(self) -> float:
        """Width of the gap all around a centred scope, mm; twice that, at one side, when it lies on the wall."""
        return float((self.sheath.mm - self.scope.mm) / 2)

    @property
    def free_mm2(self) -> float:
        """Free area beside the scope, mm2, wherever it lies."""
        return math.pi / 4 * float(self.sheath.mm**2 - self.scope.mm**2)

    @property
    def open_share(self) -> float:
        """Free area over the empty sheath's: 1 - kappa^2."""
        return float(1 - self.scope_to_sheath**2)

    @property
    def radius_m(self) -> float:
        """Half the sheath's inner diameter, m."""
        return float(self.sheath.mm) / 2000

    def in_words(self) -> str:
        """`7.5 in 10 Fr`."""
        return f"{self.scope.in_fr()} in {self.sheath.in_fr()} Fr"
