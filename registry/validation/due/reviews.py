"""Reviews of the days after an operation: until one reaches day 30, "no complication" is not known."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

from sqlalchemy import func, select

from registry.schema.lists_operation import Purpose
from registry.validation.due.item import DueItem, What
from registry.validation.due.picture import Picture


def reviews_due(picture: Picture) -> list[DueItem]:
    """Operations for stone removal without a contact or record review that reaches ``review_days`` (30) after them.

    A contact reaches to the day up to which all complications are known by it, else to its own day.

    Args:
        picture: what is held, and the day.
    """
    operation = picture.table("operation").c
    reached = reviewed_to(picture)
    query = (
        select(operation.id, operation.patient_id, operation.operated_on)
        .where(operation.purpose == Purpose.STONE_REMOVAL)
        .order_by(operation.operated_on, operation.id)
    )
    found = []
    for row in picture.connection.execute(query):
        person = picture.people[row.patient_id]
        days = picture.days(person, "review_days")
        due_on = row.operated_on + dt.timedelta(days=days)
        if person.died or due_on > picture.until or reached.get(row.patient_id, dt.date.min) >= due_on:
            continue
        found.append(
            picture.item(
                What.REVIEWS,
                person,
                due_on=due_on,
                way=person.way,
                todo=person.todo("call, or review the record"),
                about=f"day {days} after the operation",
                since=row.operated_on,
                table="operation",
                row=row.id,
            )
        )
    return found


def reviewed_to(picture: Picture) -> dict[int, dt.date]:
    """The last day up to which each patient's complications are known, by a contact."""
    contact = picture.table("contact").c
    known = func.coalesce(contact.complications_known_to, contact.contacted_on, type_=contact.contacted_on.type)
    reached: dict[int, dt.date] = defaultdict(lambda: dt.date.min)
    for row in picture.connection.execute(select(contact.patient_id, known.label("known"))):
        reached[row.patient_id] = max(reached[row.patient_id], row.known)
    return dict(reached)
