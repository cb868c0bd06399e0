"""Points of an item by the cuts of a measure, when the measure itself is a span."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.outcomes.scores.case import Case, Span
from analysis.outcomes.scores.score import Item


def above(value: float, cuts: Sequence[float]) -> int:
    """1, and one more for each cut that the value lies above."""
    return 1 + sum(value > cut for cut in cuts)


def reached(value: float, cuts: Sequence[float]) -> int:
    """1, and one more for each cut that the value reaches."""
    return 1 + sum(value >= cut for cut in cuts)


def item(name: str, points: tuple[int, int], missing: Sequence[str]) -> Item:
    """An item; what is missing is named only where it leaves more than one value."""
    low, high = points
    return Item(name, low, high, tuple(missing) if low != high else ())


def by_cuts(name: str, span: Span, cuts: Sequence[float], missing: Sequence[str]) -> Item:
    """An item whose points rise above each cut."""
    return item(name, (above(span[0], cuts), above(span[1], cuts)), missing)


def measures_missing(case: Case, *names: str) -> list[str]:
    """Which measures one of the stones lacks; names are fields of a stone."""
    return [SPOKEN[name] for name in names if any(getattr(stone, name) is None for stone in case.stones)]


def largest_missing(case: Case, name: str) -> list[str]:
    """What keeps a value of the largest stone from being settled: which is the largest, or its value."""
    several = len(case.stones) > 1
    return [*(measures_missing(case, "length_mm") if several else []), *measures_missing(case, name)]


SPOKEN = {
    "length_mm": "stone length",
    "width_mm": "stone width",
    "attenuation_hu": "attenuation",
    "skin_to_stone_mm": "skin-to-stone distance",
}
