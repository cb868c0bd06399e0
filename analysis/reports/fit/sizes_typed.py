"""Diameters as people type them: `7.5`, `7.5Fr`, `2.5mm`, `0.035in`, `200um`, and a sheath's label `10/12`.

Text that is no size at all is wrong usage. A size whose unit cannot be told, or that cannot be, is a case of its own:
it is named with the reason and the others are still answered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from analysis.outcomes.fit.size import MM_IN, Size, of_number
from analysis.reports.request.faults import MalformedOptionError

UNIT_WORDS = {
    "fr": "Fr",
    "f": "Fr",
    "ch": "Fr",
    "mm": "mm",
    "in": "in",
    "inch": "in",
    '"': "in",
    "um": "um",
    "µm": "um",
    "μm": "um",
}
SIZE = re.compile(r"(\d+(?:\.\d+)?|\.\d+)(?:/(\d+(?:\.\d+)?|\.\d+))?\s*([^\d\s.,/]\S*)?")
PLAIN_FR = {"scope": (4.0, 30.0), "sheath": (6.0, 40.0), "channel": (2.0, 20.0), "device": (0.5, 20.0)}
"""Within these a number without a unit is taken as Fr; outside it could as well be another unit."""
ANY_FR = (0.1, 60.0)
"""Nothing that enters a ureter is thinner or thicker, whatever the unit."""


@dataclass(frozen=True)
class Unanswered:
    """One case that has no answer. case: as typed, or as the pair is named. reason: a sentence."""

    case: str
    reason: str


@dataclass(frozen=True)
class Typed:
    """A size with what was typed. outer: of a sheath's label, whose inner diameter `size` then is."""

    said: str
    size: Size
    outer: Size | None = None


def read_sizes(text: str, option: str) -> tuple[list[Typed], list[Unanswered]]:
    """Sizes separated by commas: those that are told, once each, and those that are not.

    Raises MalformedOptionError for text that is no size.
    """
    told: dict[Size, Typed] = {}
    untold: list[Unanswered] = []
    for word in text.split(","):
        one = read_size(word.strip(), option, option)
        if isinstance(one, Unanswered):
            untold.append(one)
        else:
            told.setdefault(one.size, one)
    return list(told.values()), untold


def read_size(text: str, option: str, kind: str) -> Typed | Unanswered:
    """One size of a kind: scope, sheath, channel or device. option: for the sentence.

    Raises MalformedOptionError for text that is no size.
    """
    found = SIZE.fullmatch(text)
    if found is None or (found[2] and kind != "sheath"):
        label = ", or 10/12 for a sheath labelled inner/outer" if kind == "sheath" else ""
        raise MalformedOptionError(
            f"--{option} {text!r} is no size; write a number, with its unit if it is not Fr, such as 7.5, 7.5Fr or "
            f"2.5mm{label}. Separate several by commas."
        )
    named = f"--{option} {text}"
    unit = UNIT_WORDS.get((found[3] or "fr").lower())
    if unit is None:
        return Unanswered(named, f"the unit {found[3]!r} cannot be told; known are Fr, mm, in and um.")
    reason = _cannot_be(found[1], unit, kind, plain=found[3] is None)
    if reason:
        return Unanswered(named, reason)
    size = of_number(found[1], unit)
    if found[2] is None:
        return Typed(text, size)
    if float(found[2]) <= float(found[1]):
        return Unanswered(named, "a sheath's label is inner/outer, and the outer has to be the larger.")
    return Typed(text, size, of_number(found[2], unit))


def _cannot_be(number: str, unit: str, kind: str, *, plain: bool) -> str | None:
    if float(number) == 0:
        return "a diameter is above 0."
    fr = float(of_number(number, unit).fr)
    low, high = PLAIN_FR[kind]
    if plain and not low <= fr <= high:
        return (
            f"the unit cannot be told: as Fr, a {kind} of {number} is not to be expected (from {low:g} to {high:g}). "
            f"Write the unit: {', '.join(number + each for each in MM_IN)}."
        )
    if not ANY_FR[0] <= fr <= ANY_FR[1]:
        return f"{fr:.4g} Fr is not possible; sizes run from {ANY_FR[0]:g} to {ANY_FR[1]:g} Fr."
    return None
