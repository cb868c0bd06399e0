"""Which fields a heading may name, and how well."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import cache

from registry.intake.map_names import Target, phrases, targets, undecided
from registry.intake.map_words import AFTER_WORDS, BEFORE_WORDS, Heading

_SPELLED_ALIKE, _LEAST_LETTERS = 0.86, 6
_MISSPELT, _SECTION, _OTHER_TIME, _EXTRA, _PART = 0.95, 0.97, 0.4, 0.6, 0.5
_SEVERAL = 0.6  # a heading that fits several fields, for each of them
_LEAST = 0.25
# What a first heading row says of the columns below it without changing what they hold.
_SECTIONS = frozenset(
    {
        "patient",
        "demographics",
        "general",
        "history",
        "case",
        "basic",
        "information",
        "info",
        "operative",
        "intraoperative",
    }
)


@dataclass(frozen=True)
class Named:
    """A field that a heading may name: how well, 0 to 1, and why."""

    target: Target
    worth: float
    why: str


def named(heading: Heading) -> list[Named]:
    """The fields that a heading may name, the likeliest first."""
    words, misspelt = _known_words(heading.words)
    if not words:
        return []
    found: dict[str, Named] = {}
    several = undecided().get(words, ()) or undecided().get(words - {"patient"}, ())
    for name in several:
        _keep(
            found,
            targets()[name],
            _SEVERAL,
            f"{_says(heading)}, which fits several fields" if len(several) > 1 else _ONE,
        )
    for phrase, name, worth in phrases():
        target = targets()[name]
        fit, why = _fit(heading, words, phrase, target)
        if several:
            fit = min(fit, _SEVERAL / 2)
        if fit:
            why = f"{why}, spelled a little differently" if misspelt else why
            _keep(found, target, worth * fit * (_MISSPELT if misspelt else 1.0), why)
    listed = [n for n in found.values() if n.worth >= _LEAST]
    return sorted(listed, key=lambda n: (-n.worth, n.target.name))[:4]


_ONE = "the heading alone does not say it"


def _says(heading: Heading) -> str:
    return f"the heading says '{' '.join(heading.text.split())}'"


def _keep(found: dict[str, Named], target: Target, worth: float, why: str) -> None:
    if target.name not in found or found[target.name].worth < worth:
        found[target.name] = Named(target, worth, why)


def _fit(heading: Heading, words: frozenset[str], phrase: frozenset[str], target: Target) -> tuple[float, str]:
    """How well a phrase fits the words of a heading."""
    if not words & phrase:
        return 0.0, ""
    if words == phrase:
        return 1.0, _says(heading)
    # "Pre-op" adds nothing to a field that is known before the operation anyway.
    timed = words - BEFORE_WORDS if target.before else words - (AFTER_WORDS - {"residual"}) if target.after else words
    other_time = bool((heading.before and target.after) or (heading.after and target.before))
    if phrase in (timed, timed - {"patient"}) and not other_time:
        return _SECTION, _says(heading)
    if heading.last == phrase and words - phrase <= _SECTIONS | BEFORE_WORDS | {target.table}:
        return (_OTHER_TIME if other_time else _SECTION), _says(heading)
    extra = words - phrase
    if phrase < words and len(phrase) >= len(extra):
        return (_OTHER_TIME if other_time else _EXTRA), f"{_says(heading)}, among other words"
    if words < phrase:
        return _PART * len(words) / len(phrase), f"{_says(heading)}, which is a part of its name"
    return 0.0, ""


def _known_words(words: frozenset[str]) -> tuple[frozenset[str], bool]:
    """Words that are nearly a known one, read as that one."""
    known: set[str] = set()
    for word in words:
        near: list[str] = []
        if word not in _vocabulary() and len(word) >= _LEAST_LETTERS:
            near = difflib.get_close_matches(word, _vocabulary(), n=1, cutoff=_SPELLED_ALIKE)
        known.add(near[0] if near else word)
    return frozenset(known), known != set(words)


@cache
def _vocabulary() -> frozenset[str]:
    return frozenset(word for words, _, _ in phrases() for word in words) | {w for words in undecided() for w in words}
