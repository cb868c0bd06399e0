"""S.T.O.N.E. nephrolithometry, for percutaneous operations; no kin of the ureteroscopic score of the same letters."""

from __future__ import annotations

from analysis.outcomes.scores.case import Case, calyces
from analysis.outcomes.scores.points import by_cuts, item, largest_missing, measures_missing, reached
from analysis.outcomes.scores.score import PERCUTANEOUS, Item, Score

SIZE_CUTS = (400.0, 800.0, 1600.0)
"""mm2, length by width, each reached by the size that it begins."""
TRACT_CUT, DENSITY_CUT = 100.0, 950.0
OBSTRUCTION = {"none": 1, "mild": 1, "moderate": 2, "severe": 2}


def _length_by_width(length: float | None, width: float | None) -> float | None:
    return None if length is None or width is None else length * width


def _items(case: Case) -> tuple[Item, ...]:
    low, high = case.total(lambda stone: _length_by_width(stone.length_mm, stone.width_mm))
    blocked = OBSTRUCTION.get(case.hydronephrosis or "")
    return (
        item(
            "size", (reached(low, SIZE_CUTS), reached(high, SIZE_CUTS)), measures_missing(case, "length_mm", "width_mm")
        ),
        by_cuts(
            "tract",
            case.of_largest(lambda stone: stone.skin_to_stone_mm),
            [TRACT_CUT],
            largest_missing(case, "skin_to_stone_mm"),
        ),
        item("obstruction", (blocked or 1, blocked or 2), ["hydronephrosis"]),
        item("calyces", _calyces(case), case.missing_places()),
        by_cuts(
            "density",
            case.of_largest(lambda stone: stone.attenuation_hu),
            [DENSITY_CUT],
            largest_missing(case, "attenuation_hu"),
        ),
    )


def _calyces(case: Case) -> tuple[int, int]:
    if any(stone.location == "complete_staghorn" for stone in case.stones):
        return 3, 3
    low, high = case.over_unions(lambda sites: 2 if calyces(sites) >= 3 else 1)
    return low, high if all(stone.placed for stone in case.stones) else 3


STONE_NEPHROLITHOMETRY = Score(
    code="stone",
    name="S.T.O.N.E. nephrolithometry",
    version="stone-nephrolithometry-1",
    source="Okhunov Z et al., Urology 2013;81:1154-1159",
    memory="From memory: the table of points. Other cuts are in print (tract 150 mm, three densities), unused here.",
    meant_for=PERCUTANEOUS,
    lowest=5,
    highest=13,
    items=_items,
    conventions=(
        "Size is length by width, summed over the stones, without pi/4. Tract length and density are those of the "
        "largest stone. Calyces are counted as minor groups (upper, middle, lower, front and back apart where "
        "recorded), for the registry does not number single calyces; three or more give 2 points, a complete "
        "staghorn 3."
    ),
)
