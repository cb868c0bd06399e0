"""Treated sides, and what ended the wait for a follow-up scan of them: a retreatment, or the loss of the kidney."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from sqlalchemy import Connection, or_, select

from registry.schema.lists_operation import Conduct, Purpose
from registry.schema.lists_outcome import LaterEvent
from registry.schema.tables import metadata
from registry.validation.due.day_span import DaySpan, day_span

ENDED = (LaterEvent.RETREATMENT, LaterEvent.LOSS_OF_KIDNEY, LaterEvent.LOST_TO_FOLLOW_UP)
UNTREATED = (Conduct.NOT_STARTED, Conduct.NO_STONE_FOUND)


@dataclass(frozen=True, slots=True)
class Side:
    """A side on which stone removal was intended and tried."""

    id: int
    operation_id: int
    patient_id: int
    renal_unit_id: int
    unit: str
    operated_on: dt.date
    day_number: int


@dataclass(frozen=True)
class Sides:
    """Sides with stone removal, and what happened to their renal units. ``lost_to`` is by patient."""

    treated: list[Side]
    by_unit: dict[int, list[Side]]
    retreated: dict[int, list[DaySpan]]
    lost_units: frozenset[int]
    lost_to: dict[int, list[DaySpan]]

    def ended(self, side: Side) -> bool:
        """No scan of this side is waited for any more: retreated, kidney lost, or patient lost to follow-up.

        What a date known to the month or year does not settle ends nothing.
        """
        return (
            side.renal_unit_id in self.lost_units
            or any(
                (other.operated_on, other.day_number) > (side.operated_on, side.day_number)
                for other in self.by_unit[side.renal_unit_id]
            )
            or any(on.low >= side.operated_on for on in self.retreated.get(side.renal_unit_id, ()))
            or any(on.low >= side.operated_on for on in self.lost_to.get(side.patient_id, ()))
        )

    def perhaps_retreated(self, side: Side) -> str:
        """A retreatment elsewhere that may have come before or after this side's operation, as it is dated."""
        unsure = [on for on in self.retreated.get(side.renal_unit_id, ()) if on.low < side.operated_on <= on.high]
        return str(unsure[0]) if unsure else ""


def sides_in(connection: Connection) -> Sides:
    """Every side with stone removal intended and tried, and every event that ends the wait for its scan."""
    side, operation, unit = (metadata.tables[name].c for name in ("treated_side", "operation", "renal_unit"))
    query = (
        select(
            side.id,
            side.operation_id,
            operation.patient_id,
            side.renal_unit_id,
            unit.unit,
            operation.operated_on,
            operation.day_number,
        )
        .where(side.operation_id == operation.id, side.renal_unit_id == unit.id)
        .where(side.intent == Purpose.STONE_REMOVAL)
        .where(or_(side.conduct.is_(None), side.conduct.not_in(UNTREATED)))
        .order_by(operation.operated_on, operation.day_number, side.id)
    )
    treated = [Side(*row[:4], row.unit.label, row.operated_on, row.day_number) for row in connection.execute(query)]
    by_unit: dict[int, list[Side]] = defaultdict(list)
    for each in treated:
        by_unit[each.renal_unit_id].append(each)
    lost = connection.execute(select(unit.id).where(or_(unit.lost_on.is_not(None), unit.loss_reason.is_not(None))))
    lost_units = {int(row.id) for row in lost}
    retreated: dict[int, list[DaySpan]] = defaultdict(list)
    lost_to: dict[int, list[DaySpan]] = defaultdict(list)
    later = metadata.tables["later_entry"].c
    events = select(
        later.patient_id, later.renal_unit_id, later.what, later.occurred_on, later.occurred_on_precision
    ).where(later.what.in_(ENDED))
    for row in connection.execute(events):
        on = day_span(row.occurred_on, row.occurred_on_precision)
        if row.what == LaterEvent.LOST_TO_FOLLOW_UP:
            lost_to[int(row.patient_id)].append(on)
        elif row.renal_unit_id is not None and row.what == LaterEvent.RETREATMENT:
            retreated[int(row.renal_unit_id)].append(on)
        elif row.renal_unit_id is not None:
            lost_units.add(int(row.renal_unit_id))
    return Sides(treated, dict(by_unit), dict(retreated), frozenset(lost_units), dict(lost_to))
