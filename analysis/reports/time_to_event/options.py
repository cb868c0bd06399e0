"""The options of a time to an event: choices of its rule, and of being stone-free where it starts from an image."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from analysis.cohort.columns import near
from analysis.outcomes.follow_up.rules import CHOICES, WHATS, ChoiceError, Choices, Rule, rule_of
from analysis.outcomes.follow_up.time_to import FROM_IMAGE
from analysis.reports.request.faults import MalformedOptionError
from analysis.reports.request.values import measured, whole_number
from analysis.reports.stone_free.request import DEFINING

OF_STONE_FREE = tuple(name for name in DEFINING if name != "unit")
HORIZONS = "90,365,730,1826"
YEAR = 365.25
STONE_FREE_DEFAULTS = {"threshold": "0", "sessions": "planned"}
"""No fragment at all, after the last planned stage, unless an option or the unit says otherwise."""


@dataclass(frozen=True)
class TimeOptions:
    """choices: of the rule. stone_free: options of that definition as typed. horizons: days, rising."""

    what: str
    choices: Choices
    stone_free: Mapping[str, str]
    horizons: tuple[int, ...]

    @property
    def rule(self) -> Rule:
        """The rule that the time is worked out by."""
        return rule_of(self.what, self.choices)


def allowed_options(what: str) -> tuple[str, ...]:
    """The options that mean something for a time to an event."""
    rules = [rule_of(what, Choices(event=event)) for event in ("stone_event", "passage")]
    used = [name for name in CHOICES if any(name in rule.uses for rule in rules)]
    if what == "fragment_event":
        used.append("event")
    return (*used, "horizons", *(OF_STONE_FREE if what in FROM_IMAGE else ()))


def read_options(what: str, typed: Mapping[str, str]) -> TimeOptions:
    """Read options as written in a model file.

    Raises MalformedOptionError for another `what`, an option that means nothing for it, or a value that cannot be read.
    """
    if what not in WHATS:
        raise MalformedOptionError(f"what {what!r} is no time to an event; choose one of {', '.join(WHATS)}.")
    allowed = allowed_options(what)
    for name in typed:
        if name not in allowed:
            close = near(name, allowed)
            hint = f" Did you mean {close[0]}?" if close else ""
            raise MalformedOptionError(f"{name!r} means nothing for {what}.{hint} Allowed are {', '.join(allowed)}.")
    given: dict[str, Any] = {name: str(typed[name]) for name in CHOICES if name in typed}
    if "competing_within" in given:
        given["competing_within"] = whole_number(given["competing_within"], "competing_within", 0, 3650)
    if "growth_mm" in given:
        given["growth_mm"] = measured(given["growth_mm"], "growth_mm", 0.1, 50, "mm")
    try:
        choices = Choices(**given)
    except ChoiceError as fault:
        raise MalformedOptionError(str(fault)) from None
    return TimeOptions(
        what=what,
        choices=choices,
        stone_free={name: str(typed[name]) for name in OF_STONE_FREE if name in typed},
        horizons=_horizons(str(typed.get("horizons", HORIZONS))),
    )


def _horizons(text: str) -> tuple[int, ...]:
    days = tuple(whole_number(part.strip(), "horizons", 1, 36_500) for part in text.split(","))
    if sorted(set(days)) != list(days):
        raise MalformedOptionError(f"horizons {text!r} have to rise, each named once: {HORIZONS} for example.")
    return days


def in_words(days: int) -> str:
    """A horizon as it is spoken of: 90 days, 1 year, 5 years."""
    years = round(days / YEAR)
    if years and abs(days - years * YEAR) <= 1:
        return f"{years} year" + ("s" if years > 1 else "")
    return f"{days} days"
