"""What scores of flexible ureteroscopy make of a lower-pole stone and the angle that leads to it."""

from __future__ import annotations

from collections.abc import Callable

from analysis.outcomes.scores.case import INFERIOR, Case
from analysis.outcomes.scores.points import item
from analysis.outcomes.scores.score import Item

ANGLE = "infundibulopelvic angle"
DISPUTED = (
    "The cut of the angle belongs to the way it was measured in that paper, and how is disputed: the angle is taken as "
    "recorded, and its method is kept beside each case and counted."
)


def lower_pole_item(name: str, case: Case, *, without: int, points: Callable[[float], int]) -> Item:
    """Points of an item that is `without` when no stone lies in the lower pole, else `points` of the angle."""
    fewest, most = case.over_unions(lambda sites: int(bool(sites & INFERIOR)))
    angles = [case.angle_deg] if case.angle_deg is not None else [0.0, 180.0]
    found = [points(angle) for angle in angles] if most else []
    if not fewest:
        found.append(without)
    missing = [*(case.missing_places() if fewest != most else ()), *([ANGLE] if case.angle_deg is None else [])]
    return item(name, (min(found), max(found)), missing)
