"""Patterns of cells that hold several things: ``{stone.length_mm}x{stone.width_mm}[ {stone.location}]``.

A field stands in braces, ``{table.heading}`` or ``{table.heading:unit}``; ``{-}`` passes over what stands there. What
may be missing stands in square brackets, one within another if need be. All else is text, whatever its case; ``\\``
before a bracket or brace makes it text. A blank stands for any number of blanks, none at all is needed elsewhere, and
an x is also a multiplication sign.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

from registry.intake.log_mapping_targets import Target
from registry.intake.log_values_numbers import CLOCK_UNITS, FEET, FEET_AND_INCHES
from registry.schema.fields import Code, Number, Whole

NUMBER = r"[+−-]?\d+(?:[.,]\d+)*"
_CLOCK = r"\d+:\d\d(?::\d\d)?"
_ANY = r"\S(?:.*?\S)?"
_TOKEN = re.compile(r"\\(?P<plain>.)|\{(?P<field>[^{}]*)\}|(?P<open>\[)|(?P<close>\])|(?P<blank>\s+)|(?P<text>.)", re.S)
PASSED_OVER = "-"


class PatternError(ValueError):
    """A pattern that cannot be used; the message is a part of a sentence."""


@dataclass(frozen=True)
class Piece:
    """One field of a pattern. ``turn``: 1 where the field stands for the first time, 2 for the second and so on."""

    target: Target
    unit: str
    turn: int


@dataclass(frozen=True)
class Pattern:
    """A pattern that is ready for use.

    Attributes:
        text: as the mapping writes it.
        pieces: its fields, in order.
        strict: matches where every code is one that is known; tried before ``loose``.
        loose: matches whatever stands where a code should.
    """

    text: str
    pieces: tuple[Piece, ...]
    strict: re.Pattern[str] = field(compare=False)
    loose: re.Pattern[str] = field(compare=False)


def compile_pattern(
    text: str, find: Callable[[str], Target | str], words: Callable[[Target], Collection[str]]
) -> Pattern:
    """Read a pattern.

    Args:
        text: as the mapping writes it.
        find: a target by its text, else what may have been meant.
        words: what may stand in the cell for a target with a code list.

    Raises:
        PatternError: it has an unknown field, or a bracket too many or too few, or no field.
    """
    pieces: list[Piece] = []
    strict: list[str] = []
    loose: list[str] = []
    depth, turns, gap = 0, dict[Target, int](), ""
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        if kind == "blank":
            gap = r"\s+"
            continue
        if kind == "close":
            depth -= 1
            if depth < 0:
                raise PatternError("has a ']' without its '['; a bracket that is text is written \\]")
            both = gap + ")?"
            gap = ""
        elif kind == "open":
            depth += 1
            both = "(?:"  # a blank before what may be missing is missing with it
        elif kind == "field":
            tight, wide = _field(token["field"], pieces, turns, find, words)
            strict.append((gap or r"\s*") + tight)
            loose.append((gap or r"\s*") + wide)
            gap = ""
            continue
        else:
            letter = token["plain"] or token["text"]
            if letter in "{}":
                raise PatternError(f"has a '{letter}' too many; one that is text is written \\{letter}")
            both = (gap or (r"\s*" if not _within_word(text, token.start()) else "")) + _literal(letter)
            gap = ""
        strict.append(both)
        loose.append(both)
    if depth:
        raise PatternError("has a '[' without its ']'; a bracket that is text is written \\[")
    if not pieces:
        raise PatternError("names no field; fields stand in braces, as {stone.length_mm}")
    return Pattern(text, tuple(pieces), _ready(strict), _ready(loose))


def match(pattern: Pattern, cell: str, *, loose: bool = False) -> list[tuple[Piece, str]] | None:
    """The fields of a cell with their texts; None where the cell does not follow the pattern."""
    found = (pattern.loose if loose else pattern.strict).fullmatch(cell.replace("\u00a0", " ").strip())
    if found is None:
        return None
    texts = [found.group(f"p{n}") for n in range(len(pattern.pieces))]
    return [(piece, text.strip()) for piece, text in zip(pattern.pieces, texts, strict=True) if text is not None]


def match_first(patterns: tuple[Pattern, ...], cell: str) -> list[tuple[Piece, str]] | None:
    """The fields of a cell by the first pattern that it follows; with unknown words only if no pattern knows them."""
    for loose in (False, True):
        for pattern in patterns:
            found = match(pattern, cell, loose=loose)
            if found is not None:
                return found
    return None


def _ready(parts: list[str]) -> re.Pattern[str]:
    return re.compile("".join(parts) + r"\s*", re.IGNORECASE | re.DOTALL)


def _within_word(text: str, at: int) -> bool:
    """The letter continues a word or a number of the pattern's own text."""
    return at > 0 and text[at].isalnum() and text[at - 1].isalnum()


def _literal(letter: str) -> str:
    return "[xX×✕*]" if letter in "x×" else re.escape(letter)


def _field(
    text: str,
    pieces: list[Piece],
    turns: dict[Target, int],
    find: Callable[[str], Target | str],
    words: Callable[[Target], Collection[str]],
) -> tuple[str, str]:
    if text.strip() == PASSED_OVER:
        return f"(?:{_ANY})", f"(?:{_ANY})"
    name, _, unit = text.partition(":")
    target = find(name)
    if isinstance(target, str):
        raise PatternError(f"names an unknown field {{{text}}}; {target}")
    number = len(pieces)
    turns[target] = turns.get(target, 0) + 1
    pieces.append(Piece(target, unit.strip(), turns[target]))
    return f"(?P<p{number}>{_inside(target, unit.strip(), words)})", f"(?P<p{number}>{_inside(target, unit.strip())})"


def _inside(target: Target, unit: str, words: Callable[[Target], Collection[str]] | None = None) -> str:
    if unit in CLOCK_UNITS:
        return _CLOCK
    if unit == FEET_AND_INCHES:
        return FEET
    if isinstance(target.info.kind, Whole | Number):
        known = sorted(words(target), key=len, reverse=True) if words else []
        return "|".join([NUMBER, *map(_spaced, known)])
    if isinstance(target.info.kind, Code) and words is not None:
        known = sorted((w for w in words(target) if w), key=lambda w: (-len(w), w))
        return "|".join(map(_spaced, known)) or _ANY
    return _ANY


def _spaced(word: str) -> str:
    return r"\s+".join(re.escape(part) for part in word.split())
