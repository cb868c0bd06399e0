"""All that is due on a day, the most urgent first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection
from typing import TYPE_CHECKING

from registry.validation.due.cultures import cultures_due
from registry.validation.due.drains import drains_due
from registry.validation.due.follow_up import follow_up_due
from registry.validation.due.item import DueItem, What
from registry.validation.due.missing_lines import missing_lines_due
from registry.validation.due.picture import Picture
from registry.validation.due.results import results_due
from registry.validation.due.reviews import reviews_due
from registry.validation.due.sign_off import sign_off_due

if TYPE_CHECKING:
    from registry.store.registry import Registry

LISTS: dict[What, Callable[[Picture], list[DueItem]]] = {
    What.DRAINS: drains_due,
    What.CULTURES: cultures_due,
    What.FOLLOW_UP: follow_up_due,
    What.REVIEWS: reviews_due,
    What.RESULTS: results_due,
    What.THEATRE_LIST: missing_lines_due,
    What.SIGN_OFF: sign_off_due,
}


def due(registry: Registry, *, on: dt.date, what: Collection[What] = tuple(What), within: int = 0) -> list[DueItem]:
    """What is due on a day, from one reading of what is held now.

    Args:
        registry: the open registry.
        on: the day that is asked about.
        what: the kinds that are wanted.
        within: how many days ahead to look; stents, cultures and results are listed with the time that they still have.
    Returns:
        The items, the most urgent first: by kind, those that may be called for before those that must be settled from
        the record, what can still be done in time before what cannot, then the longest overdue.

    Raises:
        GravelbookError: a setting of the unit cannot be read.
    """
    with registry.reading() as connection:
        picture = Picture(connection, on, within)
        found = [item for kind in LISTS if kind in what for item in LISTS[kind](picture)]
    return sorted(found, key=lambda item: item.urgency)
