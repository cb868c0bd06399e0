"""What is asked about costs: the options as typed, read or refused in a sentence."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.outcomes.cost.components import COMPONENTS
from analysis.outcomes.cost.course_costs import CostRules
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.own_defaults import SMALL_NUMBER, Family, OwnDefault
from analysis.reports.request.splits import Contrast, Split, parse_contrast, parse_splits
from analysis.reports.request.values import confidence_level, measured, one_of, several_of, whole_number
from analysis.reports.stone_free.request import DEFINING, MOST_REPLICATES
from registry.schema.errors import GravelbookError

OWN = ("horizon", "minutes", "reusable", "components", "missing_price", "price_year", "willing", "level", "replicates")
COST = Family("cost", "costs", OWN)
HANDLINGS = ("complete", "lower", "upper")
LONGEST_HORIZON = 365
DEFAULTS = {
    "horizon": "90",
    "minutes": "room",
    "reusable": "reprocessing",
    "components": ",".join(COMPONENTS),
    "missing_price": "refuse",
    "unscanned": ",".join(HANDLINGS),
    "level": "0.95",
    "seed": "1",
    "replicates": "2000",
    SMALL_NUMBER: "5",
}
DEFINED = tuple(name for name in DEFINING if name != "unit")
"""Options of the stone-free definition; the unit is always the course."""


@dataclass(frozen=True, kw_only=True)
class Request:
    """One question about costs.

    defining: options of the stone-free definition as typed. by, contrast: how courses are split and compared. willing:
    what one more stone-free case is worth.
    """

    rules: CostRules
    defining: dict[str, str]
    unscanned: tuple[str, ...]
    by: tuple[Split, ...]
    contrast: Contrast | None
    willing: tuple[float, ...]
    level: float
    seed: int
    replicates: int
    small_number: int
    own_defaults: tuple[OwnDefault, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """What was decided about costs, ready for JSON."""
        return {
            "horizon_days": self.rules.horizon,
            "minutes": self.rules.minutes,
            "reusable": self.rules.reusable,
            "components": list(self.rules.components),
            "missing_price": self.rules.missing_price,
            "price_year_asked": self.rules.price_year,
            "discounting": None,
            "unscanned": list(self.unscanned),
            "by": [one.as_dict() for one in self.by],
            "compare": self.contrast.as_dict() if self.contrast else None,
            "willing": list(self.willing),
            "level": self.level,
            "seed": self.seed,
            "replicates": self.replicates,
        }


def read_request(typed: Mapping[str, str | None], own: Sequence[OwnDefault] = ()) -> Request:
    """Read the options of the command; the unit's own defaults stand in where nothing was typed.

    Raises MalformedOptionError for one that cannot be read; GravelbookError when a setting is at fault.
    """
    given = {name: value for name, value in typed.items() if value is not None}
    used = tuple(one for one in own if one.option not in given)
    try:
        return _read({**DEFAULTS, **{one.option: one.value for one in used}, **given}, used, given)
    except MalformedOptionError as fault:
        if not used:
            raise
        held = "; ".join(f"{one.name} = {one.value} since {one.since}" for one in used)
        raise GravelbookError(
            f"{fault} The registry's own settings took part: {held}. Mend them in the sheet Setting, or type the "
            "option to set them aside."
        ) from None


def _read(values: Mapping[str, str], used: tuple[OwnDefault, ...], given: Mapping[str, str]) -> Request:
    contrast = parse_contrast(values["compare"]) if "compare" in values else None
    if contrast is None and "willing" in given:
        raise MalformedOptionError(
            "--willing is what one more stone-free case is worth, for the net benefit of one group over another, and "
            "nothing is compared: add --compare COLUMN=INDEX,COMPARATOR."
        )
    components = several_of(values["components"], "components", tuple(COMPONENTS))
    year = values.get("price_year")
    horizon = whole_number(values["horizon"], "horizon", 1, LONGEST_HORIZON)
    return Request(
        rules=CostRules(
            horizon=horizon,
            minutes="operating"
            if one_of(values["minutes"], "minutes", ("room", "operating")) == "operating"
            else "room",
            reusable="purchase" if _reusable(values) == "purchase" else "reprocessing",
            components=tuple(name for name in COMPONENTS if name in components),
            missing_price="zero"
            if one_of(values["missing_price"], "missing-price", ("refuse", "zero")) == "zero"
            else "refuse",
            price_year=None if year is None else whole_number(year, "price-year", 1970, 2200),
        ),
        defining={name: given[name] for name in DEFINED if name in given},
        unscanned=several_of(values["unscanned"], "unscanned", HANDLINGS),
        by=parse_splits(values["by"], option="--by", at_most=2) if "by" in values else (),
        contrast=contrast,
        willing=_amounts(values["willing"]) if "willing" in values and contrast else (),
        level=confidence_level(values["level"]),
        seed=whole_number(values["seed"], "seed", 0, 2**63 - 1),
        replicates=whole_number(values["replicates"], "replicates", 1, MOST_REPLICATES),
        small_number=whole_number(values[SMALL_NUMBER], SMALL_NUMBER, 0, 1000),
        own_defaults=used,
    )


def _reusable(values: Mapping[str, str]) -> str:
    return one_of(values["reusable"], "reusable", ("reprocessing", "purchase"))


def _amounts(text: str) -> tuple[float, ...]:
    amounts = tuple(measured(each.strip(), "willing", 0, 1e9, "") for each in text.split(","))
    if len(set(amounts)) != len(amounts):
        raise MalformedOptionError(f"--willing {text!r} names an amount twice; name each one once.")
    return amounts
