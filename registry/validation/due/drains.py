"""Stents, nephrostomies and ureteric catheters in place, wherever they were placed; none is ever left out unseen.

One is in place until its removal is recorded. What is told of it but not dated (removed somewhere, changed) keeps it
on the list with a note, except that of one changed for another that is listed only the new one stands here. A side
that was left with a stent of which there is no row is listed as well, unless its renal unit was operated on again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select

from registry.schema.lists_common import Place, YesNo
from registry.schema.lists_equipment import DrainKind
from registry.schema.lists_operation import Conduct, ExitStrategy
from registry.validation.due.day_span import DaySpan, day_span
from registry.validation.due.item import DueItem, What
from registry.validation.due.people import Person
from registry.validation.due.picture import Picture

LEFT_WITH = {
    ExitStrategy.STENT: "stent",
    ExitStrategy.STENT_ON_STRING: "stent on a string",
    ExitStrategy.NEPHROSTOMY: "nephrostomy",
    ExitStrategy.STENT_AND_NEPHROSTOMY: "stent and nephrostomy",
}


@dataclass(frozen=True)
class _Placed:
    """A drain as it is recorded."""

    row: Any
    on: DaySpan
    person: Person

    @property
    def here(self) -> tuple[int, DrainKind]:
        return self.row.renal_unit_id, self.row.kind

    @property
    def in_place(self) -> bool:
        return self.row.removed_on is None


def drains_due(picture: Picture) -> list[DueItem]:
    """All that is in place on the day, with how long it has been overdue (negative: how long there still is).

    Args:
        picture: what is held, and the day.
    """
    placed = [each for each in _placed(picture) if not each.person.died and each.on.low <= picture.until]
    found = [_item(picture, drain) for drain in placed if drain.in_place and not _changed_for(drain, placed)]
    return found + list(_without_row(picture))


def _placed(picture: Picture) -> list[_Placed]:
    drain, unit = picture.table("drain"), picture.table("renal_unit")
    query = (
        select(drain, unit.c.patient_id, unit.c.unit, unit.c.lost_on)
        .join(unit, unit.c.id == drain.c.renal_unit_id)
        .order_by(drain.c.placed_on, drain.c.drain_number, drain.c.id)
    )
    return [
        _Placed(row, day_span(row.placed_on, row.placed_on_precision), picture.people[row.patient_id])
        for row in picture.connection.execute(query)
    ]


def _changed_for(drain: _Placed, placed: list[_Placed]) -> bool:
    """It was changed for another one of its kind that is recorded, so that the new one speaks for the unit."""
    if drain.row.changed != YesNo.YES:
        return False
    mine = (drain.on.low, drain.row.drain_number, drain.row.id)
    return any(
        (other.on.low, other.row.drain_number, other.row.id) > mine for other in placed if other.here == drain.here
    )


def _item(picture: Picture, drain: _Placed) -> DueItem:
    row, longest = drain.row, picture.days(drain.person, "stent_longest_days")
    # Of a date that is not exact the first day counts: rather early than forgotten.
    due_on = row.planned_removal_on or drain.on.low + dt.timedelta(days=longest)
    where = ", placed elsewhere" if row.placed_where == Place.ELSEWHERE else ""
    return picture.item(
        What.DRAINS,
        drain.person,
        due_on=due_on,
        way=drain.person.way,
        todo=drain.person.todo("arrange the removal, or record it"),
        about=f"{row.kind.label}, {row.unit.label}{where}",
        since=drain.on.low,
        table="drain",
        row=row.id,
        note="; ".join(_notes(picture, drain, longest)),
    )


def _notes(picture: Picture, drain: _Placed, longest: int) -> Iterator[str]:
    row = drain.row
    if row.planned_removal_on is None:
        yield f"no removal planned; {longest} days counted from its placement"
    elif (picture.on - drain.on.low).days > longest:
        yield f"in place for more than {longest} days"
    if not drain.on.exact:
        yield f"placed in {drain.on}, the day is not known"
    if row.removed_where is not None:
        yield f"said to be removed ({row.removed_where.label.lower()}), but not when"
    if row.changed == YesNo.YES:
        yield "said to be changed, but no new one is recorded"
    if row.lost_on is not None:
        yield "the kidney was lost: record what became of it"


def _without_row(picture: Picture) -> Iterator[DueItem]:
    """Sides left with a stent or nephrostomy of which there is no row, and whose unit was not operated on again."""
    side, operation, unit, drain = (
        picture.table(name) for name in ("treated_side", "operation", "renal_unit", "drain")
    )
    joined = side.join(operation, operation.c.id == side.c.operation_id).join(unit, unit.c.id == side.c.renal_unit_id)
    query = (
        select(
            side.c.id,
            side.c.exit_strategy,
            side.c.conduct,
            side.c.renal_unit_id,
            operation.c.operated_on,
            operation.c.patient_id,
            unit.c.unit,
        )
        .select_from(joined)
        .order_by(operation.c.operated_on, operation.c.day_number, side.c.id)
    )
    last = {row.renal_unit_id: row for row in picture.connection.execute(query)}
    recorded: dict[int, dt.date] = {}
    placed = select(drain.c.renal_unit_id, drain.c.placed_on, drain.c.placed_on_precision)
    for each in picture.connection.execute(placed):
        newest = day_span(each.placed_on, each.placed_on_precision).high
        recorded[each.renal_unit_id] = max(newest, recorded.get(each.renal_unit_id, newest))
    for row in last.values():
        person = picture.people[row.patient_id]
        left = LEFT_WITH.get(row.exit_strategy) if row.conduct != Conduct.NOT_STARTED else None
        known = recorded.get(row.renal_unit_id, dt.date.min) >= row.operated_on
        if left is None or known or person.died or row.operated_on > picture.until:
            continue
        yield picture.item(
            What.DRAINS,
            person,
            due_on=row.operated_on + dt.timedelta(days=picture.days(person, "stent_longest_days")),
            way=person.way,
            todo=person.todo("find out whether it is still in place, and record it"),
            about=f"{left.capitalize()}, {row.unit.label}",
            since=row.operated_on,
            table="treated_side",
            row=row.id,
            note=f"the operation left a {left}, but none is recorded among the stents",
        )
