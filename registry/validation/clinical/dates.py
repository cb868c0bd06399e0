"""What rules say of dates that may be known to the month or the year only.

Such a date is an interval from its first day to its last. An order is broken only if it is broken whatever the day,
and a row whose order the interval leaves open is not judged.
"""

from __future__ import annotations

MACROS = (
    # The last day that a date may be; its first is the date as it is stored.
    "CREATE MACRO latest(day, known) AS CASE known WHEN 'month' THEN last_day(day) "
    "WHEN 'year' THEN make_date(year(day), 12, 31) ELSE day END",
    "CREATE MACRO days(early, late) AS date_diff('day', early, late)",
    # Of two rows one is cited: the later, and a row that a file brings before one that is held. Rows that a file
    # brings have keys below 0, the first being -1.
    "CREATE MACRO cited(day, key, other_day, other_key) AS CASE WHEN key < 0 AND other_key > 0 THEN true "
    "WHEN key > 0 AND other_key < 0 THEN false ELSE (day, abs(key)) > (other_day, abs(other_key)) END",
)
"""Made in every engine that runs rules."""


def last(column: str) -> str:
    """The last day that a date field may be: ``t.examined_on`` with its precision beside it."""
    return f"latest({column}, {column}_precision)"


def decided(column: str, day: str) -> str:
    """The date is known well enough to say whether it lies before a day; both are there."""
    return f"({last(column)} < {day} OR {column} >= {day})"


def decided_after(column: str, day: str) -> str:
    """The date is known well enough to say whether it lies after a day; both are there."""
    return f"({column} > {day} OR {last(column)} <= {day})"
