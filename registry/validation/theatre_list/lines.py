"""Takes the lines of a theatre list in, again and again: each weekly load brings later versions of the same days."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from registry.schema.errors import GravelbookError
from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata
from registry.store.cipher import ERASED, keyed_index
from registry.store.door import Door

if TYPE_CHECKING:
    from registry.store.registry import Registry

SAID_BY_LIST = "theatre list"
"""Who said that an operation was cancelled, when the list itself did; what a person said is never overruled by it."""


@dataclass(frozen=True, slots=True)
class ListLine:
    """One line of a theatre list as it was read. ``site`` may be left out where the registry has one."""

    listed_on: dt.date
    hospital_number: str | None
    wording: str | None = None
    cancelled: bool = False
    site: str | None = None


@dataclass(frozen=True)
class TakenLines:
    """What a list brought.

    Attributes:
        added: keys of new lines.
        updated: keys of lines whose wording changed, or that the list now says are cancelled, or are not any more.
        unchanged: how many lines were held as they are.
        gone: keys of lines that this version of their day does not have any more; they stay, for a person to settle.
        contradicted: keys of lines that the list says are cancelled although an operation here matches them.
    """

    added: tuple[int, ...] = ()
    updated: tuple[int, ...] = ()
    unchanged: int = 0
    gone: tuple[int, ...] = ()
    contradicted: tuple[int, ...] = ()


def take_lines(registry: Registry, lines: Sequence[ListLine], by: str) -> TakenLines:
    """Enter the lines of a list, whole or not at all.

    A line is known by its site, day and hospital number (the second of one number on one day is the second there too),
    one without a number by its wording. New lines take the next free number of their day, so that numbers stay.

    Args:
        registry: the open registry.
        lines: the lines in their order; all of a day that the list has any of.
        by: who loads them.

    Raises:
        GravelbookError: a site is not known, a day has too many lines, or a value cannot be kept.
    """
    if not lines:
        return TakenLines()
    with registry.writing(by=by, reason="theatre list") as door:
        return take_into(door, lines)


def take_into(door: Door, lines: Sequence[ListLine]) -> TakenLines:
    """As ``take_lines``, within a writing transaction that is open already."""
    sites = _sites(door, lines)
    taking = _Taking(door)
    days: dict[tuple[int, dt.date], list[ListLine]] = defaultdict(list)
    for line in lines:
        days[sites[line.site], line.listed_on].append(line)
    for (site, day), listed in sorted(days.items()):
        taking.day(site, day, listed)
    return taking.taken()


class _Taking:
    def __init__(self, door: Door) -> None:
        self.door = door
        self.table = metadata.tables["theatre_list_line"]
        self.added: list[int] = []
        self.updated: list[int] = []
        self.gone: list[int] = []
        self.contradicted: list[int] = []
        self.unchanged = 0

    def taken(self) -> TakenLines:
        return TakenLines(
            tuple(self.added), tuple(self.updated), self.unchanged, tuple(self.gone), tuple(self.contradicted)
        )

    def day(self, site: int, day: dt.date, listed: list[ListLine]) -> None:
        held = self._held(site, day)
        last = max((row["line_number"] for rows in held.values() for row in rows), default=0)
        for line in listed:
            known = held.get(self._name(line.hospital_number, line.wording))
            if known:
                self._again(known.pop(0), line)
                continue
            last += 1
            self.added.append(self._enter(site, line, last))
        self.gone += [row["id"] for rows in held.values() for row in rows]

    def _held(self, site: int, day: dt.date) -> dict[str, list[dict[str, Any]]]:
        """The lines of a day by what they are known by, in their order."""
        table = self.table
        query = select(table).where(table.c.site_id == site, table.c.listed_on == day).order_by(table.c.line_number)
        held: dict[str, list[dict[str, Any]]] = defaultdict(list)
        for row in map(dict, self.door.connection.execute(query).mappings()):
            row["wording"] = self._clear(row["wording"])
            held[row["hospital_number_index"] or self._name(None, row["wording"])].append(row)
        return held

    def _name(self, hospital_number: str | None, wording: str | None) -> str:
        if hospital_number is not None:
            return keyed_index(self.door.keys, hospital_number)
        return "wording:" + " ".join((wording or "").split()).casefold()

    def _clear(self, wording: str | None) -> str | None:
        return None if wording is None else self.door.cipher.decrypt(wording, "theatre_list_line", "wording")

    def _enter(self, site: int, line: ListLine, number: int) -> int:
        values = {
            "site_id": site,
            "listed_on": line.listed_on,
            "line_number": number,
            "hospital_number": line.hospital_number,
            "wording": line.wording,
        }
        if line.cancelled:
            values |= {"state": ListLineState.CANCELLED, "said_by": SAID_BY_LIST}
        return self.door.insert("theatre_list_line", values)

    def _again(self, row: dict[str, Any], line: ListLine) -> None:
        changes: dict[str, Any] = {}
        if line.wording != row["wording"] and row["wording"] != ERASED:
            changes["wording"] = line.wording
        if line.cancelled and row["state"] == ListLineState.OPEN:
            changes |= {"state": ListLineState.CANCELLED, "said_by": SAID_BY_LIST}
        elif line.cancelled and row["state"] == ListLineState.MATCHED:
            self.contradicted.append(row["id"])
        elif not line.cancelled and row["state"] == ListLineState.CANCELLED and row["said_by"] == SAID_BY_LIST:
            changes |= {"state": ListLineState.OPEN, "said_by": None}
        if changes:
            self.door.update("theatre_list_line", row["id"], changes, revision=row["revision"])
            self.updated.append(row["id"])
        else:
            self.unchanged += 1


def _sites(door: Door, lines: Sequence[ListLine]) -> dict[str | None, int]:
    """The sites that the lines name, by code; None is the only one there is."""
    site = metadata.tables["site"].c
    known: dict[str | None, int] = {row.code: row.id for row in door.connection.execute(select(site.code, site.id))}
    codes = ", ".join(sorted(map(str, known))) or "none"
    if len(known) == 1:
        known[None] = next(iter(known.values()))
    for line in lines:
        if line.site not in known:
            what = f"names the site {line.site}" if line.site else "names no site"
            raise GravelbookError(
                f"A line of the theatre list of {line.listed_on} {what}; the registry has: {codes}. Name one of them "
                "in the mapping (site = ...)."
            )
    return known
