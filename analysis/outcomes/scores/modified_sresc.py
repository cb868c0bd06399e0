"""The modified S-ReSC score, for flexible ureteroscopy: each inferior site counts twice."""

from __future__ import annotations

from analysis.outcomes.scores.case import INFERIOR, Case
from analysis.outcomes.scores.points import item
from analysis.outcomes.scores.score import FLEXIBLE, Band, Item, PublishedRate, PublishedRates, Score
from analysis.outcomes.scores.sresc import SITES


def _points(sites: int) -> int:
    return sites.bit_count() + (sites & INFERIOR).bit_count()


def _items(case: Case) -> tuple[Item, ...]:
    return (item("sites", case.over_unions(_points), case.missing_places()),)


MODIFIED_S_RESC = Score(
    code="modified_s_resc",
    name="Modified S-ReSC",
    version="modified-s-resc-1",
    source="Jung JW et al., Urolithiasis 2014;42:335-340",
    memory="From memory: sites, the extra point of inferior sites, bands and rates.",
    meant_for=FLEXIBLE,
    lowest=1,
    highest=12,
    items=_items,
    conventions="Size and number of stones do not count. " + SITES,
    bands=(Band("low", 1, 2), Band("intermediate", 3, 4), Band("high", 5, 12)),
    published=(
        PublishedRates(
            "Jung 2014",
            True,
            (PublishedRate(1, 2, 0.942), PublishedRate(3, 4, 0.840), PublishedRate(5, 12, 0.455)),
        ),
    ),
)
