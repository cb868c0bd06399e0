"""What a score reads of one treated side, and what of it is possible when something is not recorded.

The nine sites of the collecting system (Jeong CW et al., PLoS ONE 2013;8:e65888; from memory) are bits of a whole
number. A stone whose sites are not recorded may fill any that its location allows; `unions` are the sets of sites that
all stones of a side together may fill.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache

import numpy as np

from registry.schema.lists_stone import StoneLocation, StoneSite

BIT = {site.value: 1 << place for place, site in enumerate(StoneSite)}
GROUPS = {
    "upper": ("superior_major", "superior_anterior", "superior_posterior"),
    "middle": ("middle_anterior", "middle_posterior"),
    "lower": ("inferior_major", "inferior_anterior", "inferior_posterior"),
}
PELVIS = BIT["pelvis"]
INFERIOR = BIT["inferior_major"] | BIT["inferior_anterior"] | BIT["inferior_posterior"]
ALL_SITES = (1 << len(BIT)) - 1
OUTSIDE = frozenset(
    place.value
    for place in (
        StoneLocation.PROXIMAL_URETER,
        StoneLocation.MIDDLE_URETER,
        StoneLocation.DISTAL_URETER,
        StoneLocation.VESICOURETERIC_JUNCTION,
        StoneLocation.BLADDER,
    )
)
CALYCES = {"upper_calyx": "upper", "middle_calyx": "middle", "lower_calyx": "lower"}
Span = tuple[float, float]


@dataclass(frozen=True)
class Stone:
    """One stone. sites: bits of those it fills, 0 when none is recorded. Measures in mm, attenuation in HU."""

    location: str | None = None
    face: str | None = None
    sites: int = 0
    length_mm: float | None = None
    width_mm: float | None = None
    attenuation_hu: float | None = None
    skin_to_stone_mm: float | None = None

    @property
    def placed(self) -> bool:
        """Whether its place in the kidney is known."""
        return self.location not in (None, "not_said") or bool(self.sites)


@dataclass(frozen=True)
class Case:
    """One treated side before its operation; None is not recorded. stones_settled: whether its stones are known to be
    still there (not so for a later stage that names no stone it aimed at)."""

    stones: tuple[Stone, ...] = ()
    anatomy: str | None = None
    spinal_disease: str | None = None
    hydronephrosis: str | None = None
    angle_deg: float | None = None
    infundibular_length_mm: float | None = None
    stones_settled: bool = True

    @property
    def outside_kidney(self) -> bool:
        return any(stone.location in OUTSIDE for stone in self.stones)

    def lacking_stones(self) -> str:
        """What of the stones as a whole is not recorded, empty when nothing."""
        if not self.stones:
            return "stones"
        return "" if self.stones_settled else "stones aimed at in this stage"

    def unions(self) -> frozenset[int]:
        """Every set of sites, as bits, that the stones together may fill."""
        return _unions(tuple(sorted((stone.location or "", stone.face or "", stone.sites) for stone in self.stones)))

    def over_unions(self, points: Callable[[int], int]) -> tuple[int, int]:
        """Fewest and most points over all that is possible."""
        found = [points(sites) for sites in self.unions()]
        return min(found), max(found)

    def missing_places(self) -> tuple[str, ...]:
        """What would settle which sites are filled."""
        words = []
        for stone in self.stones:
            if not stone.placed:
                words.append("stone location")
            elif not stone.sites and len(possible_sites(stone.location or "", stone.face or "", 0)) > 1:
                words.append("calyx face or sites filled" if stone.location in CALYCES else "sites filled")
        return tuple(sorted(set(words)))

    def total(self, measure: Callable[[Stone], float | None]) -> Span:
        """Sum over the stones; open above when one is not recorded."""
        values = [measure(stone) for stone in self.stones]
        known = math.fsum(value for value in values if value is not None)
        return known, math.inf if None in values else known

    def of_largest(self, measure: Callable[[Stone], float | None]) -> Span:
        """A value of the largest stone, the highest of those equally long; a span when it is not settled."""
        longest = max((s.length_mm for s in self.stones if s.length_mm is not None), default=None)
        first = [s for s in self.stones if s.length_mm is not None and s.length_mm == longest]
        unsized = [[s] for s in self.stones if s.length_mm is None]
        spans = [_highest(measure(stone) for stone in group) for group in (first, *unsized) if group]
        # An unsized stone may be the largest, or as large as the longest: the higher of both is then among these.
        return min(low for low, _ in spans), max(high for _, high in spans)


def calyces(sites: int) -> int:
    """Calyces in which there is stone: minor ones, front and back apart; a major one alone counts as one."""
    return sum(max(_count(sites, names, minor=True), _count(sites, names, minor=False)) for names in GROUPS.values())


def calyx_groups(sites: int) -> int:
    """Of upper, middle and lower calyces, those in which there is stone."""
    return sum(any(sites & BIT[name] for name in names) for names in GROUPS.values())


def bits(names: Iterable[str]) -> int:
    """Sites as bits."""
    made = 0
    for name in names:
        made |= BIT[name]
    return made


def _count(sites: int, names: Iterable[str], *, minor: bool) -> int:
    return sum(bool(sites & BIT[name]) for name in names if name.endswith("_major") is not minor)


def _highest(values: Iterable[float | None]) -> Span:
    listed = list(values)
    known = max((value for value in listed if value is not None), default=-math.inf)
    return known, math.inf if None in listed else known


@cache
def possible_sites(location: str, face: str, sites: int) -> tuple[int, ...]:
    """The sets of sites that one stone may fill."""
    if sites:
        return (sites,)
    if location in CALYCES:
        return tuple(BIT[name] for name in GROUPS[CALYCES[location]] if not face or name.endswith(face))
    if location in ("pelvis", "junction"):
        return (PELVIS,)
    if location == "diverticulum":
        return tuple(bit for name, bit in BIT.items() if name != "pelvis" and (not face or name.endswith(face)))
    everywhere = range(1, ALL_SITES + 1)
    if location == "partial_staghorn":
        return tuple(mask for mask in everywhere if mask & PELVIS and mask != PELVIS)
    if location == "complete_staghorn":
        return tuple(mask for mask in everywhere if mask & PELVIS and calyx_groups(mask) == len(GROUPS))
    return tuple(everywhere)


@cache
def _unions(stones: tuple[tuple[str, str, int], ...]) -> frozenset[int]:
    reached = np.zeros(1, dtype=np.int64)
    for stone in stones:
        reached = np.unique(reached[:, None] | np.array(possible_sites(*stone), dtype=np.int64))
    return frozenset(reached.tolist())
