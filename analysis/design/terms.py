"""The terms of a model: which column enters, and in which shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analysis.design.errors import DesignError

Shape = Literal["linear", "spline", "levels", "bands"]


@dataclass(frozen=True, kw_only=True)
class Term:
    """One column of the frame in a model.

    shape: `linear`, a number as it is, for each `per` of it; `spline`, a restricted cubic spline with `knots` knots;
    `levels`, words or codes, each against `reference` (else the first that occurs in the levels' order); `bands`, a
    number cut at `cuts`, closed below, against the first band (or `reference`, a place from 0 written as text).
    """

    column: str
    shape: Shape = "linear"
    per: float = 1.0
    knots: int = 4
    cuts: tuple[float, ...] = ()
    reference: str | None = None

    def __post_init__(self) -> None:
        if not self.per > 0:
            raise DesignError(f"{self.column}: an effect is for each so much of it, above 0, not {self.per}.")
        if self.shape == "bands" and (not self.cuts or sorted(set(self.cuts)) != list(self.cuts)):
            raise DesignError(f"{self.column}: bands need cuts that rise, each named once, not {list(self.cuts)}.")

    def written(self) -> str:
        """The term as it stands in the formula."""
        if self.shape == "linear":
            return self.column if self.per == 1 else f"per({self.column}, {self.per:g})"
        if self.shape == "spline":
            return f"spline({self.column}, {self.knots})"
        if self.shape == "bands":
            return f"bands({self.column}, {', '.join(f'{cut:g}' for cut in self.cuts)})"
        base = "" if self.reference is None else f", contr.treatment({self.reference!r})"
        return f"C({self.column}{base})"


@dataclass(frozen=True)
class Interaction:
    """The product of two terms: the effect of one may differ with the other."""

    first: str
    second: str


def formula_of(outcome: str, terms: Sequence[Term], interactions: Sequence[Interaction] = ()) -> str:
    """The whole formula, outcome first, as it is printed with a result."""
    right = [term.written() for term in terms]
    by_column = {term.column: term.written() for term in terms}
    right += [f"{by_column[one.first]}:{by_column[one.second]}" for one in interactions]
    return f"{outcome} ~ 1" + "".join(f" + {each}" for each in right)
