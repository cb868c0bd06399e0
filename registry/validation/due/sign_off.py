"""Cases that only wait for a person to declare them complete."""

from __future__ import annotations

import datetime as dt

from registry.validation.due.item import DueItem, Way, What
from registry.validation.due.picture import Picture
from registry.validation.sign_off_ready import standings


def sign_off_due(picture: Picture) -> list[DueItem]:
    """Operations that are ready to be signed off, the oldest first.

    Args:
        picture: what is held, and the day.
    """
    found = []
    for standing in standings(picture):
        if standing.lacking:
            continue
        person = picture.people[standing.patient_id]
        found.append(
            picture.item(
                What.SIGN_OFF,
                person,
                due_on=standing.operated_on + dt.timedelta(days=picture.days(person, "review_days")),
                way=Way.ASK,
                todo="look at it and sign it off",
                about=f"Operation of {standing.operated_on}",
                since=standing.operated_on,
                table="operation",
                row=standing.operation_id,
            )
        )
    return found
