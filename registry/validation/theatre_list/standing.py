"""How a theatre list stands: what was matched, called off, left over, and what that says about the registry."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sqlalchemy import Connection, func, select

from registry.schema.lists_operation import Purpose
from registry.schema.lists_outcome import ListLineState
from registry.schema.tables import metadata
from registry.validation.capture_recapture import Share, Total, chapman, share_present
from registry.validation.unit_settings import FILLED_FROM_LIST, UnitSettings

if TYPE_CHECKING:
    from registry.store.registry import Registry


@dataclass(frozen=True, slots=True)
class LeftLine:
    """A line that nothing matches. Its patient is not named: the number on the day's list finds it."""

    id: int
    listed_on: dt.date
    line_number: int
    patient_known: bool


@dataclass(frozen=True)
class ListStanding:
    """A site's lists of a period.

    Attributes:
        counts: lines by state; ``open`` are missing from the registry.
        contradicted: lines called off, or not of a stone, though their patient has an operation on that day.
        left: the open lines.
        ahead: lines after the period's last day that is over, which are not counted yet.
        present: of the lines that are cases, the share that the registry has.
        total: how many operations there are in all; None where the registry is, or may be, filled from the list.
        registry_filled_from_list: False only when the unit says so.
    """

    site: str
    first: dt.date
    last: dt.date
    counts: dict[str, int]
    contradicted: int
    left: tuple[LeftLine, ...]
    ahead: int
    present: Share
    total: Total | None
    registry_filled_from_list: bool


def standing(
    registry: Registry, *, first: dt.date | None = None, last: dt.date | None = None, today: dt.date | None = None
) -> list[ListStanding]:
    """How each site's theatre lists stand.

    Args:
        registry: the open registry.
        first: the first day to count; by default the first that is listed.
        last: the last day to count; by default the last that is listed and not ahead.
        today: for tests.

    Raises:
        GravelbookError: a setting of the unit cannot be read.
    """
    day = today or dt.date.today()
    line, site = metadata.tables["theatre_list_line"].c, metadata.tables["site"].c
    with registry.reading() as connection:
        settings = UnitSettings(connection, day)
        days = select(
            line.site_id,
            site.code,
            func.min(line.listed_on, type_=line.listed_on.type).label("low"),
            func.max(line.listed_on, type_=line.listed_on.type).label("high"),
        ).where(line.site_id == site.id)
        return [
            _of_site(
                connection, settings, row.site_id, row.code, first or row.low, min(last or row.high, day), row.high
            )
            for row in connection.execute(days.group_by(line.site_id, site.code).order_by(site.code)).all()
        ]


def _of_site(
    connection: Connection,
    settings: UnitSettings,
    site: int,
    code: str,
    first: dt.date,
    last: dt.date,
    listed_to: dt.date,
) -> ListStanding:
    line, number, patient, operation = (
        metadata.tables[name].c for name in ("theatre_list_line", "hospital_number", "patient", "operation")
    )
    query = select(line.id, line.listed_on, line.line_number, line.state, line.hospital_number_index)
    lines = connection.execute(query.where(line.site_id == site).order_by(line.listed_on, line.line_number)).all()
    inside = [row for row in lines if first <= row.listed_on <= last]
    counts = Counter(row.state for row in inside)
    known = set(connection.execute(select(number.number_index).where(number.site_id == site)).scalars())
    operations = select(number.number_index, operation.operated_on).where(
        number.site_id == site, number.patient_id == operation.patient_id
    )
    held_on = {(row.number_index, row.operated_on) for row in connection.execute(operations)}
    called_off = (ListLineState.CANCELLED, ListLineState.NOT_STONE)
    matched, left = counts[ListLineState.MATCHED], counts[ListLineState.OPEN]
    apart = settings.answered_no(site, FILLED_FROM_LIST)
    total = None
    if apart:
        held = connection.execute(
            select(operation.id).where(
                operation.patient_id == patient.id,
                patient.site_id == site,
                operation.operated_on.between(first, last),
                operation.purpose == Purpose.STONE_REMOVAL,
            )
        ).scalars()
        matched_here = set(
            connection.execute(
                select(line.operation_id).where(
                    line.site_id == site, line.state == ListLineState.MATCHED, line.listed_on.between(first, last)
                )
            ).scalars()
        )
        # An operation that a line matches counts, whatever its purpose: both lists have it.
        total = chapman(matched + left, len(matched_here | set(held)), matched)
    return ListStanding(
        site=code,
        first=first,
        last=last,
        counts={state.value: counts[state] for state in ListLineState},
        contradicted=sum(
            row.state in called_off and (row.hospital_number_index, row.listed_on) in held_on for row in inside
        ),
        left=tuple(
            LeftLine(row.id, row.listed_on, row.line_number, row.hospital_number_index in known)
            for row in inside
            if row.state == ListLineState.OPEN
        ),
        ahead=sum(row.listed_on > last for row in lines) if listed_to > last else 0,
        present=share_present(matched, matched + left),
        total=total,
        registry_filled_from_list=not apart,
    )
