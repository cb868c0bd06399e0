"""Columns that repeat under a number, such as Stone 1 size and Stone 2 size, put together as one entry."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from registry.intake.map_family import family
from registry.intake.map_proposal import PERHAPS, Proposal


@dataclass
class Entry:
    """One entry of the mapping: a proposal, or several that differ by a number alone."""

    proposals: list[Proposal]

    @property
    def first(self) -> Proposal:
        """The proposal that the entry is written from."""
        return self.proposals[0]

    @property
    def each(self) -> list[int]:
        """The numbers of the columns; empty where there is one."""
        return [p.made.heading.number or 0 for p in self.proposals] if len(self.proposals) > 1 else []

    @property
    def group(self) -> str:
        """The group as the mapping writes it."""
        group = self.first.family.group
        if not self.each:
            return group
        return "" if group.isdigit() else group.replace(str(self.each[0]), "{n}")

    @property
    def settings(self) -> dict[str, Any]:
        """The settings of all of them together."""
        whole: dict[str, Any] = {}
        for proposal in self.proposals:
            for key, value in proposal.settings.items():
                if isinstance(value, dict):
                    whole[key] = whole.get(key, {}) | value
                elif isinstance(value, list):
                    whole[key] = list(dict.fromkeys([*whole.get(key, []), *value]))
                else:
                    whole.setdefault(key, value)
        return whole


def follow_siblings(proposals: list[Proposal]) -> None:
    """Give a column that is left the field of the one that differs from it by its number alone, as what it may be."""
    for left in proposals:
        said = next((p for p in proposals if p.proposed and _siblings(p, left)), None)
        if said is None or left.proposed or left.to == said.to:
            continue
        # Nearly all that stands in it may be on no list yet: it is for a person, but not to be taken for another field.
        left.others = [name for name in dict.fromkeys((*left.to, *left.others)) if name not in said.to]
        left.to, left.sureness = said.to, PERHAPS
        left.reasons = [f"the column {' '.join(said.made.heading.text.split())} holds it"]
        left.family = family(said.to[0], left.made.heading)


def _siblings(one: Proposal, other: Proposal) -> bool:
    first, second = one.made.heading, other.made.heading
    return first.number is not None and first.pattern == second.pattern and first.number != second.number


def put_together(proposals: list[Proposal]) -> list[Entry]:
    """Make entries, in order of the columns."""
    entries: list[Entry] = []
    for proposal in proposals:
        before = next((e for e in entries if _alike(e.first, proposal)), None)
        if before is None:
            entries.append(Entry([proposal]))
        else:
            before.proposals.append(proposal)
    return entries


def _alike(one: Proposal, other: Proposal) -> bool:
    """Two columns differ by their number alone. Both stand in the mapping, or both are left."""
    plain = ("unit", "decimal", "separator", "status", "at_mm", "below")
    return (
        _siblings(one, other)
        and one.to == other.to
        and one.proposed == other.proposed
        and all(one.settings.get(key) == other.settings.get(key) for key in plain)
        and set(one.settings) - {"values"} == set(other.settings) - {"values"}
    )
