"""The report on costs: what was asked in words, and its sections."""

from __future__ import annotations

from analysis.outcomes.cost.components import COMPONENTS, COST, PER_STONE_FREE
from analysis.reports.cost.comparison_sections import Compared, comparison_sections
from analysis.reports.cost.component_sections import mean_section, missing_section, uncosted_section
from analysis.reports.cost.gathered import Gathered
from analysis.reports.cost.ratio_section import ratio_section
from analysis.reports.cost.unrated import COUNTS_AS_NOTHING, NEVER, REFUSES
from analysis.reports.request.own_defaults import SMALL_NUMBER, OwnDefault
from analysis.reports.sections.report import Report
from analysis.reports.stone_free.definition_lines import definition_lines

MINUTES = {
    "room": "minutes in the room where recorded, else operating minutes with nothing added for the room",
    "operating": "operating minutes alone; the room before and after is not costed",
}
REUSABLE = {
    "reprocessing": (
        "reprocessing and repairs by the use (repairs of a model's pieces since their first use, over all its uses); "
        "what it was bought for is not costed"
    ),
    "purchase": (
        "reprocessing, repairs and purchase by the use (repairs of a model's pieces since their first use, and the "
        "price of the day times its pieces, over all its uses; an upper figure, for they will be used on)"
    ),
}
PERSPECTIVE = "the hospital: what it uses up, at its own prices and rates; nothing of patients' own costs or lost work"


def report_of(held: Gathered, found: list[Compared]) -> Report:
    """Cost per stone-free case, mean cost by component, comparisons, and what could not or was not costed."""
    request = held.request
    return Report(
        title="Cost per stone-free case",
        sections=[
            ratio_section(held),
            mean_section(held),
            *comparison_sections(held, found),
            missing_section(held),
            uncosted_section(held),
        ],
        definition={
            **PER_STONE_FREE,
            **request.as_dict(),
            "costing": COST,
            "perspective": PERSPECTIVE,
            "without_price": {
                "not_computable": [] if request.rules.missing_price == "zero" else list(REFUSES),
                "counted_as_nothing": [
                    *(REFUSES if request.rules.missing_price == "zero" else ()),
                    *COUNTS_AS_NOTHING,
                ],
                "amount_or_day_not_known": "not computable",
                "never_costed": NEVER,
            },
            "currency": held.currency,
            "price_year": held.price_year,
            "zeroed": held.costs.zeroed,
            "intensive_care_blank": held.costs.intensive_blank,
            "stone_free": held.stone_free.definition.as_dict(),
            "stone_free_own_defaults": [one.as_dict() for one in held.stone_free.own_defaults],
        },
        in_words=_in_words(held),
        source=held.asked.source,
        own_defaults=tuple(dict.fromkeys((*request.own_defaults, *_apart(held)))),
        small_number=request.small_number,
        cautions=(*_loud(held), *held.stone_free.definition.cautions(), *CAUTIONS),
    )


CAUTIONS = (
    "What nobody recorded costs nothing here: a unit that writes down more looks dearer, and what was done elsewhere "
    "is seen only where it was told.",
)


def _in_words(held: Gathered) -> list[tuple[str, str]]:
    rules = held.request.rules
    left_out = [words for code, words in COMPONENTS.items() if code not in rules.components]
    without = f"; left out on request: {', '.join(left_out)}" if left_out else ""
    lines = [
        ("cost", f"{COST['id']}, version {COST['version']}: {COST['rule']} Source: {COST['source']}."),
        ("perspective", PERSPECTIVE),
        ("money", _money(held)),
        ("horizon", f"day 0 to {rules.horizon} after the index operation; not discounted, being within a year"),
        ("components", f"{', '.join(COMPONENTS[code] for code in rules.components)}{without}"),
        ("theatre", MINUTES[rules.minutes]),
        ("equipment", f"single-use: each piece opened, at the price in force on the day; reusable: "
         f"{REUSABLE[rules.reusable]}"),
        ("stays", _stays(held)),
        ("missing price", _missing(held)),
    ]  # fmt: skip
    return [*lines, *((f"stone-free: {word}", said) for word, said in definition_lines(held.stone_free))]


def _apart(held: Gathered) -> list[OwnDefault]:
    """The unit's stone-free defaults; the small number stands among those of costs already."""
    return [one for one in held.stone_free.own_defaults if one.option != SMALL_NUMBER]


def _money(held: Gathered) -> str:
    if held.currency is None:
        return "nothing was costed, so there is no currency"
    year = "" if held.price_year is None else f"; rates in prices of {held.price_year}"
    chosen = (
        ", of that year alone (asked for; before the first of them the first counts)"
        if held.request.rules.price_year
        else ""
    )
    return (
        f"{held.currency}{year}{chosen}; equipment and repairs as they cost on the day, for those carry no price year"
    )


def _stays(held: Gathered) -> str:
    blank = held.costs.intensive_blank
    said = f" ({blank:,} stays of the registry)" if blank else ""
    return (
        "nights from admission to discharge, none when both are on one day, those in intensive care counted apart; "
        f"intensive care left blank counts as none{said}"
    )


def _missing(held: Gathered) -> str:
    if held.request.rules.missing_price == "zero":
        return (
            "COUNTED AS NOTHING, as asked: costs are too low wherever a price or rate is missing, be it of "
            f"{', '.join((*REFUSES, *COUNTS_AS_NOTHING))}. A course of which an amount or day is not known still has "
            f"no cost. Never costed: {NEVER}"
        )
    return (
        f"no cost, and counted as not computable, has a course in which the price, rate or amount is not known of: "
        f"{', '.join(REFUSES)}. Costed where the unit has a rate, and else counted as nothing and told (no rate in): "
        f"{', '.join(COUNTS_AS_NOTHING)}. Never costed: {NEVER}"
    )


def _loud(held: Gathered) -> tuple[str, ...]:
    if held.request.rules.missing_price != "zero":
        return ()
    return (
        f"MISSING PRICES WERE COUNTED AS NOTHING, as asked: {held.costs.zeroed:,} things used in the registry cost "
        "something that is not in these figures. They are too low, and may mislead a comparison.",
    )
