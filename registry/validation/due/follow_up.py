"""Follow-up scans that are due by the unit's own rule, after operations in which stone removal was intended.

A scan is due ``follow_up_scan_days`` (30) after the operation and counts from ``follow_up_scan_from_days`` (14) on;
one after ``follow_up_scan_to_days`` (90) no longer decides the outcome, but then nothing is asked for any more. A scan
that was not done for a stated reason is settled, one that is pending waits among the results.
"""

from __future__ import annotations

import datetime as dt

from registry.validation.due.item import DueItem, What
from registry.validation.due.people import Person
from registry.validation.due.picture import Picture
from registry.validation.due.sides import Side


def follow_up_due(picture: Picture) -> list[DueItem]:
    """Scans due up to the last day looked at, and overdue ones.

    Args:
        picture: what is held, and the day.
    """
    found = []
    for side in picture.sides.treated:
        person = picture.people[side.patient_id]
        due_on = side.operated_on + dt.timedelta(days=picture.days(person, "follow_up_scan_days"))
        if person.died or due_on > picture.until or picture.sides.ended(side) or scan_settled(picture, side, person):
            continue
        last = side.operated_on + dt.timedelta(days=picture.days(person, "follow_up_scan_to_days"))
        late = last < picture.on
        found.append(
            picture.item(
                What.FOLLOW_UP,
                person,
                due_on=due_on,
                way=person.way,
                todo=person.todo("enter a later scan, or why there was none" if late else "arrange a scan"),
                about=side.unit,
                since=side.operated_on,
                table="treated_side",
                row=side.id,
                late=late,
                note="; ".join(filter(None, (_closing(last, late), _unsure(picture, side, person)))),
            )
        )
    return found


def scan_settled(picture: Picture, side: Side, person: Person, *, pending_settles: bool = True) -> bool:
    """A scan of the side was surely done in or after its window, or why not is recorded.

    Args:
        picture: what is held.
        side: the treated side.
        person: its patient.
        pending_settles: one that is booked counts too, as it is followed among the results.
    """
    first = _first(picture, side, person)
    for scan in picture.scans.of(side.patient_id):
        if scan.pending and not pending_settles:
            continue
        # "Not done" names the day it was due; a reason given for any day after the operation is one for this scan.
        start = first if scan.not_done is None else side.operated_on
        counts = scan.is_of(side.renal_unit_id) or (
            scan.not_done is not None and (not scan.units or side.renal_unit_id in scan.units)
        )
        if counts and scan.on.low >= start:
            return True
    return False


def _first(picture: Picture, side: Side, person: Person) -> dt.date:
    return side.operated_on + dt.timedelta(days=picture.days(person, "follow_up_scan_from_days"))


def _closing(last: dt.date, late: bool) -> str:
    return f"the window closed on {last}" if late else f"the window closes on {last}"


def _unsure(picture: Picture, side: Side, person: Person) -> str:
    """Why a date that is not exact did not settle it."""
    first = _first(picture, side, person)
    scans = [
        str(scan.on)
        for scan in picture.scans.of(side.patient_id)
        if scan.is_of(side.renal_unit_id) and scan.on.low < first <= scan.on.high and not scan.on.exact
    ]
    if scans:
        return f"a scan dated {scans[-1]} may have been it: find its day"
    retreated = picture.sides.perhaps_retreated(side)
    return f"a retreatment dated {retreated} may have come after: find its day" if retreated else ""
