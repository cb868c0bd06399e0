"""The Resorlu-Unsal stone score, for flexible ureteroscopy."""

from __future__ import annotations

from analysis.outcomes.scores.case import Case, calyx_groups
from analysis.outcomes.scores.lower_pole_angle import DISPUTED, lower_pole_item
from analysis.outcomes.scores.points import item, measures_missing
from analysis.outcomes.scores.score import FLEXIBLE, Item, PublishedRate, PublishedRates, Score

SIZE_MM, ANGLE_DEG = 20.0, 45.0
ABNORMAL = frozenset({"horseshoe", "pelvic"})


def _items(case: Case) -> tuple[Item, ...]:
    low, high = case.total(lambda stone: stone.length_mm)
    kidney = None if case.anatomy is None else int(case.anatomy in ABNORMAL)
    return (
        item("size", (int(low > SIZE_MM), int(high > SIZE_MM)), measures_missing(case, "length_mm")),
        lower_pole_item("lower pole", case, without=0, points=lambda angle: int(angle < ANGLE_DEG)),
        item("calyces", case.over_unions(lambda sites: int(calyx_groups(sites) > 1)), case.missing_places()),
        item("anatomy", (0, 1) if kidney is None else (kidney, kidney), ["anatomy"]),
    )


RESORLU_UNSAL = Score(
    code="resorlu_unsal",
    name="Resorlu-Unsal score",
    version="resorlu-unsal-1",
    source="Resorlu B, Unsal A, Gulec H, Oztuna D, Urology 2012;80:512-518",
    memory="From memory: items and rates.",
    meant_for=FLEXIBLE,
    lowest=0,
    highest=4,
    items=_items,
    uses_angle=True,
    conventions=(
        "Size is the longest diameter, summed over the stones. Different calyces: upper, middle, lower, each once. "
        f"Abnormal anatomy is a horseshoe or pelvic kidney, no other. {DISPUTED}"
    ),
    published=(
        PublishedRates(
            "Resorlu 2012",
            True,
            (
                PublishedRate(0, 0, 0.97),
                PublishedRate(1, 1, 0.85),
                PublishedRate(2, 2, 0.70),
                PublishedRate(3, 4, 0.27),
            ),
        ),
    ),
)
