"""The S-ReSC score, for percutaneous operations: how many of nine sites of the collecting system hold stone."""

from __future__ import annotations

from analysis.outcomes.scores.case import Case
from analysis.outcomes.scores.points import item
from analysis.outcomes.scores.score import PERCUTANEOUS, Band, Item, PublishedRate, PublishedRates, Score

SITES = (
    "A stone's sites are those recorded as filled; else its calyx with its face, or one site not known which: a single "
    "stone in a calyx needs no face. The ureteropelvic junction counts as the pelvis. A staghorn needs its sites."
)


def _items(case: Case) -> tuple[Item, ...]:
    return (item("sites", case.over_unions(int.bit_count), case.missing_places()),)


S_RESC = Score(
    code="s_resc",
    name="S-ReSC",
    version="s-resc-1",
    source="Jeong CW et al., PLoS ONE 2013;8:e65888",
    memory="From memory: sites, bands and rates.",
    meant_for=PERCUTANEOUS,
    lowest=1,
    highest=9,
    items=_items,
    conventions="Size and number of stones do not count. " + SITES,
    bands=(Band("low", 1, 2), Band("medium", 3, 4), Band("high", 5, 9)),
    published=(
        PublishedRates(
            "Jeong 2013",
            True,
            (PublishedRate(1, 2, 0.960), PublishedRate(3, 4, 0.690), PublishedRate(5, 9, 0.289)),
        ),
    ),
)
