"""Something that is due: of which case, since when, and what to do about it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class What(StrEnum):
    """What can be due, in the order in which it is urgent."""

    DRAINS = "drains"
    CULTURES = "cultures"
    FOLLOW_UP = "follow-up"
    REVIEWS = "reviews"
    RESULTS = "results"
    THEATRE_LIST = "theatre-list"
    SIGN_OFF = "sign-off"


HEADINGS = {
    What.DRAINS: "Stents and nephrostomies in place",
    What.CULTURES: "Positive cultures without a recorded treatment, before an operation",
    What.FOLLOW_UP: "Follow-up scans",
    What.REVIEWS: "Reviews of the days after the operation",
    What.RESULTS: "Results awaited",
    What.THEATRE_LIST: "Lines of the theatre list that no operation here matches",
    What.SIGN_OFF: "Cases ready to be signed off",
}


class Way(StrEnum):
    """How it can be settled."""

    CALL = "call"  # the patient has to be reached
    ASK = "ask"  # somebody of the hospital has to be asked; the patient is left in peace
    RECORD = "record"  # do not contact the patient: settle it from the record


@dataclass(frozen=True, slots=True)
class DueItem:
    """One thing that is due.

    ``study_number`` is blank only for a line of a theatre list whose patient is not known here. ``overdue_days`` is
    negative while there is still time, and ``since`` the first day that it can stand for when its date is not exact.
    ``late``: what could still be saved comes first; this cannot be put right in time any more.
    """

    what: What
    site: str
    study_number: str
    about: str
    since: dt.date
    due_on: dt.date
    overdue_days: int
    way: Way
    todo: str
    table: str
    row: int
    note: str = ""
    late: bool = False

    @property
    def urgency(self) -> tuple[int, bool, bool, int, str, str, int]:
        """Sorts the most urgent first; what may not be called for stands after what may, kind by kind."""
        order = list(What).index(self.what)
        return order, self.way is Way.RECORD, self.late, -self.overdue_days, self.site, self.study_number, self.row
