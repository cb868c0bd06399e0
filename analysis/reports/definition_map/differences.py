"""How much of a difference is definition alone: the furthest apart of the map, each pair with its definitions."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analysis.reports.definition_map.worked import DefinitionMap

AXES: dict[str, tuple[str, ...]] = {
    "threshold": ("threshold",),
    "imaging": ("imaging",),
    "window": ("window", "target_day"),
    "unit": ("unit", "sessions"),
    "handling": ("unscanned",),
}
"""What may differ, and the parts of a definition that go with it."""

WORDS = {
    "threshold": "threshold alone",
    "imaging": "imaging alone",
    "window": "window alone",
    "unit": "unit alone",
    "handling": "handling alone, at the definition asked for",
    "complete": "anything, those with a known status",
    "anything": "anything",
}


@dataclass(frozen=True)
class Difference:
    """The highest and the lowest of the map among definitions that differ in `differs` alone."""

    differs: str
    high: Mapping[str, Any]
    low: Mapping[str, Any]

    @property
    def size(self) -> float:
        """High minus low."""
        return float(self.high["estimate"] - self.low["estimate"])


def comparable(rows: Iterable[Mapping[str, Any]], small_number: int) -> list[Mapping[str, Any]]:
    """Rows whose rate can be set beside another: from enough, and of a definition under which success is possible."""
    return [
        row for row in rows if row["can_succeed"] and row["estimate"] is not None and row["n"] >= max(1, small_number)
    ]


def differences_of(made: DefinitionMap) -> list[Difference]:
    """The largest differences of a map, those by the handling of the unscanned at the definition asked for."""
    codes = {threshold.code for threshold in made.request.definition.thresholds}

    def asked_for(row: Mapping[str, Any]) -> bool:
        return row["combination"] == made.own and row["threshold"] in codes

    return largest_differences(made.rows, made.request.small_number, asked_for)


def largest_differences(
    rows: Sequence[Mapping[str, Any]],
    small_number: int,
    asked_for: Callable[[Mapping[str, Any]], bool] = lambda row: True,
) -> list[Difference]:
    """The largest difference of the whole map, of its complete cases, and by each part of the definition alone.

    By threshold, imaging, window or unit alone among the complete cases, which is what is published; by the handling
    among the rows asked for, since elsewhere its bounds are as wide as a window is badly attended. A kind without two
    rows to compare is left out. Of equal ones the first in the map's order.
    """
    usable = comparable(rows, small_number)
    complete = [row for row in usable if row["unscanned"] == "complete"]
    found = [_furthest("anything", usable, ()), _furthest("complete", complete, ())]
    every = [part for parts in AXES.values() for part in parts]
    for axis, parts in AXES.items():
        held = tuple(part for part in every if part not in parts)
        among = [row for row in usable if asked_for(row)] if axis == "handling" else complete
        found.append(_furthest(axis, among, held))
    return [one for one in found if one is not None]


def _furthest(differs: str, rows: Sequence[Mapping[str, Any]], held: Sequence[str]) -> Difference | None:
    """The widest pair among rows that agree in every part that is held."""
    groups: dict[tuple[Any, ...], list[Mapping[str, Any]]] = {}
    for row in rows:
        groups.setdefault(tuple(row[part] for part in held), []).append(row)
    pairs = [
        Difference(differs, max(group, key=_rate), min(group, key=_rate)) for group in groups.values() if len(group) > 1
    ]
    return max(pairs, key=lambda pair: pair.size, default=None)


def _rate(row: Mapping[str, Any]) -> float:
    return float(row["estimate"])
