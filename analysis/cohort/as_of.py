"""The day a snapshot reaches to."""

from __future__ import annotations

import datetime as dt

import pyarrow.compute as pc

from analysis.cohort.parquet import read_table
from analysis.cohort.snapshot import Snapshot

DATES = (("operation", "operated_on"), ("contact", "contacted_on"), ("later_entry", "occurred_on"))


def latest_day(snapshot: Snapshot) -> dt.date | None:
    """The latest date of an operation, an examination that was done, a contact or an entry after discharge.

    A date known to the month or year counts by its first day. None when there is none of them.
    """
    days = [read_table(snapshot.file(table), [column]).column(column) for table, column in DATES]
    examinations = read_table(snapshot.file("examination"), ["examined_on", "not_done"])
    days.append(examinations.filter(pc.is_null(examinations.column("not_done"))).column("examined_on"))
    found = [day for day in (pc.max(each).as_py() for each in days) if day is not None]
    return max(found, default=None)
