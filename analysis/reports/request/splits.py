"""How a person names what to split by: `operator`, `largest_mm:10,20`, or two of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from analysis.reports.request.faults import MalformedOptionError


@dataclass(frozen=True)
class Split:
    """One column, and where a number is cut; a value equal to a cut belongs to the group above it."""

    column: str
    cuts: tuple[float, ...] = ()

    def as_dict(self) -> dict[str, object]:
        return {"column": self.column, "cuts": list(self.cuts)}


@dataclass(frozen=True)
class Contrast:
    """Two groups of one column to compare: index minus, or over, comparator."""

    split: Split
    index: str
    comparator: str

    def as_dict(self) -> dict[str, object]:
        return {**self.split.as_dict(), "index": self.index, "comparator": self.comparator}


def parse_splits(text: str, *, option: str, at_most: int) -> tuple[Split, ...]:
    """Read `largest_mm:10,20,operator` or `largest_mm:10:20`: numbers after a column with a colon are its cuts.

    option: its name, for the error sentence. at_most: how many columns it takes.
    Raises MalformedOptionError for an empty name, cuts that do not rise, a column named twice or too many columns.
    """
    found: list[tuple[str, list[float]]] = []
    for token in text.split(","):
        name, *cuts = (part.strip() for part in token.split(":"))
        if _number(name) is not None and not cuts and found and found[-1][1]:
            found[-1][1].append(_cut(name, text, option))
        elif not name or _number(name) is not None:
            raise MalformedOptionError(
                f"{option} {text!r} cannot be read at {token!r}: write a column, and after a colon the numbers to cut "
                "it at, closed below; largest_mm:10,20 makes under 10, 10 to under 20, and 20 and over."
            )
        else:
            found.append((name, [_cut(cut, text, option) for cut in cuts]))
    if len(found) > at_most:
        raise MalformedOptionError(
            f"{option} {text!r} names {len(found)} columns; it takes at most {at_most}. Run it again for another."
        )
    if len({name for name, _ in found}) != len(found):
        raise MalformedOptionError(f"{option} {text!r} names a column twice; name each one once, with all its cuts.")
    for name, numbers in found:
        if sorted(set(numbers)) != numbers:
            raise MalformedOptionError(f"{option}: the cuts of {name} must rise, from the lowest up, each named once.")
    return tuple(Split(name, tuple(numbers)) for name, numbers in found)


def parse_contrast(text: str) -> Contrast:
    """Read `technique=flexible,mini_percutaneous`; the column may carry cuts, `largest_mm:20=20 and over,under 20`.

    Raises MalformedOptionError unless there is one column and two different groups.
    """
    column, equals, groups = text.partition("=")
    named = [group.strip() for group in groups.split(",")]
    if not equals or len(named) != 2 or not all(named):
        raise MalformedOptionError(
            f"--compare {text!r} cannot be read: write COLUMN=INDEX,COMPARATOR, for example "
            "technique=flexible,mini_percutaneous; the effect is index minus, or over, comparator."
        )
    if named[0] == named[1]:
        raise MalformedOptionError(f"--compare {text!r} compares {named[0]!r} with itself; name two different groups.")
    (split,) = parse_splits(column, option="--compare", at_most=1)
    return Contrast(split, named[0], named[1])


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _cut(text: str, whole: str, option: str) -> float:
    value = _number(text)
    if value is None:
        raise MalformedOptionError(
            f"{option} {whole!r} cannot be read: after the colon {text!r} is no number. Cuts are numbers in the "
            "column's own unit, for example largest_mm:10,20."
        )
    return value
