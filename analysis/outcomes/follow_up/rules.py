"""The rule of each time to an event: origin, event, end of follow-up, competing events; with version and source."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

CENSORED, EVENT, DEATH, LOSS, INTERVENTION = 0, 1, 2, 3, 4
CAUSE_WORDS = {
    CENSORED: "nothing by the end of follow-up",
    EVENT: "event",
    DEATH: "death",
    LOSS: "loss of the kidney",
    INTERVENTION: "intervention",
}
SAME_DAY = 0.5
"""Days given to what happened on the day of origin, after it: a time has to be above 0."""

ALLOWED: dict[str, tuple[str, ...]] = {
    "origin": ("index", "planned_end"),
    "auxiliary": ("event", "ignored"),
    "censoring": ("settled", "as_of"),
    "looks": ("policy", "adequate"),
    "side_not_said": ("counts", "ignored"),
    "event": ("stone_event", "passage"),
}
"""What each choice may be; the default first."""


class ChoiceError(ValueError):
    """A choice that cannot be used; its text is a sentence for the person who asked."""


@dataclass(frozen=True, kw_only=True)
class Choices:
    """What a person may choose of these rules.

    origin: of retreatment, the index operation or the last planned stage. auxiliary: whether auxiliary treatments after
    the planned end are events. censoring: `settled`, at the day up to which the patient's stone events are known;
    `as_of`, taking for granted that every event came to the unit's notice. looks: images that count later on, those of
    the imaging policy or those adequate at the threshold. competing_within: days after the last image within which a
    death or loss still competes. side_not_said: whether an event of which the kidney is not told counts for each kidney
    of that patient that is followed. growth_mm: how much larger a fragment has to be on the same kind of image. event:
    of fragments, a stone-related event or passage.
    """

    origin: str = "index"
    auxiliary: str = "event"
    censoring: str = "settled"
    looks: str = "policy"
    competing_within: int = 365
    side_not_said: str = "counts"
    growth_mm: float = 2.0
    event: str = "stone_event"

    def __post_init__(self) -> None:
        for name, allowed in ALLOWED.items():
            if getattr(self, name) not in allowed:
                raise ChoiceError(f"{name} cannot be {getattr(self, name)!r}; choose one of {', '.join(allowed)}.")
        if not 0 <= self.competing_within <= 3650:
            raise ChoiceError(f"competing_within is {self.competing_within}; it has to be from 0 to 3650 days.")
        if not 0 < self.growth_mm <= 50:
            raise ChoiceError(f"growth_mm is {self.growth_mm:g}; it has to be above 0 and at most 50 mm.")


CHOICES = tuple(field.name for field in fields(Choices))


SETTLED = (
    "on the day up to which the patient's stone events are known: the latest day that a contact says so of, else the "
    "latest contact, else the last date on which anything is known; never after the as-of date"
)
AS_OF = "on the as-of date, taking for granted that every event and death came to the unit's notice"


@dataclass(frozen=True, kw_only=True)
class Rule:
    """One time to an event. uses: the choices that take part in it."""

    name: str
    version: str
    label: str
    origin: str
    at_risk: str
    event: str
    ends: str
    competing: tuple[str, ...]
    source: str
    uses: tuple[str, ...]

    def as_dict(self, choices: Choices) -> dict[str, Any]:
        """All of it, ready for JSON."""
        said = {field.name: getattr(self, field.name) for field in fields(self) if field.name != "uses"}
        said["ends"] = self.ends_in_words(choices)
        return {**said, "competing": list(self.competing), "choices": {one: getattr(choices, one) for one in self.uses}}

    def ends_in_words(self, choices: Choices) -> str:
        """When follow-up ends, as chosen."""
        return AS_OF if self.ends == SETTLED and choices.censoring == "as_of" else self.ends

    def in_words(self, choices: Choices) -> tuple[tuple[str, str], ...]:
        """The same for people."""
        told = ", ".join(f"{one} {getattr(choices, one)}" for one in self.uses)
        return (
            ("definition", f"{self.name}, version {self.version} ({self.source})"),
            ("at risk", self.at_risk),
            ("time runs from", self.origin),
            ("event", self.event),
            ("follow-up ends", self.ends_in_words(choices)),
            ("competing", " and ".join(self.competing)),
            ("choices", told),
            ("dates", "one known to the month or year counts at its middle, for the order of things too"),
            ("same day", f"what happened on the day of origin, after it, is given {SAME_DAY:g} day"),
        )


BOTH = ("death", "loss of that kidney")
HOUSE = "house rule on the registry's own definitions; no published consensus found"

RETREATMENT = Rule(
    name="retreatment",
    version="1",
    label="retreatment",
    origin="the index operation, or the last planned stage done (choice origin)",
    at_risk="courses in which stone removal was intended and begun",
    event="any unplanned stone treatment of that kidney, here or elsewhere, after the last planned stage done",
    ends=SETTLED,
    competing=BOTH,
    source=HOUSE,
    uses=("origin", "auxiliary", "censoring", "side_not_said"),
)
RECURRENCE = Rule(
    name="recurrence",
    version="1",
    label="recurrence on imaging",
    origin=(
        "the image that confirmed the course stone-free; from the operation on, nobody could have had the event "
        "before that image (immortal time)"
    ),
    at_risk="courses that were stone-free by the definition named",
    event=(
        "a later image with a new stone, with any fragment where that image had shown none, or with one above the "
        "threshold; it lies between the last image without and the first image with it"
    ),
    ends="at the last image before any further treatment of that kidney, and never after the as-of date",
    competing=BOTH,
    source=HOUSE,
    uses=("looks", "competing_within"),
)
SYMPTOMATIC = Rule(
    name="symptomatic_recurrence",
    version="1",
    label="symptomatic recurrence",
    origin="the image that confirmed the course stone-free (from the operation on there would be immortal time)",
    at_risk="courses that were stone-free by the definition named",
    event="a stone episode, a new stone told later, a stone passed, or treatment of that kidney for a stone",
    ends=SETTLED,
    competing=BOTH,
    source=HOUSE,
    uses=("censoring", "side_not_said"),
)
FRAGMENT_EVENT = Rule(
    name="fragment_event",
    version="1",
    label="stone-related event with residual fragments",
    origin="the image that found the fragments",
    at_risk="courses whose image showed fragments by the definition named",
    event=(
        "urinary infection, renal colic (or a stone episode), enlargement (larger on the same kind of image, "
        "or regrowth told later), or any additional stone treatment that was not a planned stage"
    ),
    ends=SETTLED,
    competing=BOTH,
    source="components as in Cebeci et al., J Urol Surg 2022; enlargement by growth_mm is a house rule",
    uses=("censoring", "side_not_said", "growth_mm"),
)
PASSAGE = Rule(
    name="fragment_passage",
    version="1",
    label="passage of residual fragments",
    origin="the image that found the fragments",
    at_risk="courses whose image showed fragments by the definition named",
    event="a fragment passed, as told later or as gone on a later image, with no procedure before",
    ends=SETTLED,
    competing=(*BOTH, "any further stone treatment of that kidney"),
    source=HOUSE,
    uses=("censoring", "side_not_said", "looks"),
)
WHATS = ("retreatment", "recurrence", "symptomatic_recurrence", "fragment_event")
"""The times to an event that can be asked for."""


def rule_of(what: str, choices: Choices) -> Rule:
    """The rule of one of WHATS."""
    if what == "fragment_event":
        return PASSAGE if choices.event == "passage" else FRAGMENT_EVENT
    return {one.name: one for one in (RETREATMENT, RECURRENCE, SYMPTOMATIC)}[what]
