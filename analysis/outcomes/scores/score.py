"""What a complexity score is, and what it says of one treated side.

Every item of a score is worked out as a span of points, from the fewest to the most that what is recorded leaves
possible. A score is computable when its whole span is one value: a missing input that could change it makes it not
computable and is named, and one that cannot is of no matter. So a missing input never gives a lower score.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from analysis.outcomes.scores.case import Case

State = Literal["computed", "not computable", "outside"]
"""`outside`: the score is not meant for the side's stones (one lies outside the kidney)."""

PERCUTANEOUS = frozenset({"percutaneous", "mini_percutaneous", "combined"})
FLEXIBLE = frozenset({"flexible"})


@dataclass(frozen=True)
class Item:
    """Points of one item, fewest and most; missing: the inputs that would settle it."""

    name: str
    low: int
    high: int
    missing: tuple[str, ...] = ()

    def in_words(self) -> str:
        points = str(self.low) if self.low == self.high else f"{self.low} to {self.high}"
        return f"{self.name} {points}"


@dataclass(frozen=True)
class Band:
    """Scores from low to high, both included, under one name."""

    name: str
    low: int
    high: int


@dataclass(frozen=True)
class PublishedRate:
    """A stone-free rate printed for scores from low to high; free of n where counts were printed or follow."""

    low: int
    high: int
    rate: float
    free: int | None = None
    n: int | None = None


@dataclass(frozen=True)
class PublishedRates:
    """Rates of one series: where, and whether the numbers were seen or are from memory."""

    where: str
    from_memory: bool
    rates: tuple[PublishedRate, ...]


@dataclass(frozen=True, kw_only=True)
class Score:
    """A published score.

    code: its name on the command line. source: where it was published. memory: what of it is from memory, empty when
    nothing is. meant_for: techniques it was made for. lowest, highest: its range; a higher one means a harder case.
    items: the rule. conventions: what the published text leaves open, as decided here.
    uses_angle: an infundibulopelvic angle takes part, whose method has to be told.
    """

    code: str
    name: str
    version: str
    source: str
    memory: str
    meant_for: frozenset[str]
    lowest: int
    highest: int
    items: Callable[[Case], tuple[Item, ...]]
    conventions: str
    uses_angle: bool = False
    bands: tuple[Band, ...] = ()
    published: tuple[PublishedRates, ...] = ()

    @property
    def label(self) -> str:
        """Its name wherever it is shown, with the warning that belongs to it."""
        return f"{self.name} (from memory)" if self.from_memory else self.name

    @property
    def from_memory(self) -> bool:
        return self.memory.startswith("From memory")


@dataclass(frozen=True)
class Scored:
    """What a score says of one side: value, or the span that is possible with the inputs missing for it."""

    state: State
    value: int | None
    low: int | None
    high: int | None
    items: tuple[Item, ...]
    missing: tuple[str, ...]
    reason: str


def scored(score: Score, case: Case) -> Scored:
    """One score of one side."""
    if case.outside_kidney:
        return Scored("outside", None, None, None, (), (), "a stone lies outside the kidney")
    lacking = case.lacking_stones()
    if lacking:
        return Scored("not computable", None, score.lowest, score.highest, (), (lacking,), f"{lacking} not recorded")
    items = score.items(case)
    low, high = sum(item.low for item in items), sum(item.high for item in items)
    if low == high:
        return Scored("computed", low, low, high, items, (), "")
    missing = tuple(dict.fromkeys(name for item in items if item.low != item.high for name in item.missing))
    return Scored("not computable", None, low, high, items, missing, f"{', '.join(missing)} not recorded")
