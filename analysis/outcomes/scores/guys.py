"""The Guy's stone score, for percutaneous operations."""

from __future__ import annotations

from itertools import product

from analysis.outcomes.scores.case import Case
from analysis.outcomes.scores.points import item
from analysis.outcomes.scores.score import PERCUTANEOUS, Item, PublishedRate, PublishedRates, Score
from registry.schema.lists_stone import StoneLocation

EASIEST, HARDEST = "middle_calyx", "complete_staghorn"
"""What a stone whose place is not said may be, at the least and at the most."""


def grade(places: tuple[str, ...], abnormal: bool, spinal: bool) -> int:
    """The highest grade that fits.

    places: location of each stone, codes of StoneLocation within the kidney. abnormal: abnormal renal anatomy or
    collecting system, or an ileal conduit. spinal: spina bifida or spinal injury.
    """
    if spinal or StoneLocation.COMPLETE_STAGHORN in places:
        return 4
    several = len(places) > 1
    if (several and abnormal) or StoneLocation.DIVERTICULUM in places or StoneLocation.PARTIAL_STAGHORN in places:
        return 3
    return 2 if several or abnormal or StoneLocation.UPPER_CALYX in places else 1


def _items(case: Case) -> tuple[Item, ...]:
    places = _places(case)
    abnormal = [case.anatomy != "normal"] if case.anatomy else [False, True]
    spinal = [case.spinal_disease == "yes"] if case.spinal_disease else [False, True]
    found = {grade(*world) for world in product(places, abnormal, spinal)}
    ways = {"stone location": len(places), "anatomy": len(abnormal), "spina bifida or spinal injury": len(spinal)}
    missing = [name for name, of in ways.items() if of > 1]
    return (item("grade", (min(found), max(found)), missing),)


def _places(case: Case) -> list[tuple[str, ...]]:
    """The stones' places: one way when all are recorded, else the easiest and the hardest."""
    listed = [None if stone.location == "not_said" else stone.location for stone in case.stones]
    ways = (EASIEST, HARDEST) if None in listed else (EASIEST,)
    return [tuple(place or way for place in listed) for way in ways]


GUYS = Score(
    code="guys",
    name="Guy's stone score",
    version="guys-1",
    source="Thomas K, Smith NC, Hegarty N, Glass JM, Urology 2011;78:277-281 (grades seen in a secondary source)",
    memory="What counts as abnormal anatomy is from memory.",
    meant_for=PERCUTANEOUS,
    lowest=1,
    highest=4,
    items=_items,
    conventions=(
        "The highest grade that fits. Abnormal anatomy is every recorded anatomy but normal. A stone at the "
        "ureteropelvic junction counts as one in the pelvis. Several stones are those the side aimed at."
    ),
    published=(
        PublishedRates(
            "first series, Thomas 2011",
            True,
            tuple(PublishedRate(at, at, rate) for at, rate in enumerate((0.81, 0.724, 0.35, 0.29), start=1)),
        ),
        PublishedRates(
            "Vicentini FC et al., Urology 2014, at once, CT",
            False,
            tuple(
                PublishedRate(at, at, free / n, free, n)
                for at, (free, n) in enumerate(((40, 42), (35, 44), (25, 42), (11, 27)), start=1)
            ),
        ),
    ),
)
