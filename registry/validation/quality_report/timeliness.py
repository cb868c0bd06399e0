"""How soon after it happened each operation and each examination was entered."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class Delay:
    """Whole days from an event to its entry, in the month of the event.

    ``within``: share entered within 7 days. Rows that a file of past years brought count like others, so a month
    before the registry began shows the delay that it has.
    """

    subject: str
    month: str
    rows: int
    median_days: float
    ninety_percent_within_days: float
    within: float


SUBJECTS = {"Operations": ("operation", "operated_on"), "Examinations": ("examination", "examined_on")}


def timeliness(picture: duckdb.DuckDBPyConnection, *, first: str, last: str) -> list[Delay]:
    """Days from the event to the first entry, by subject and month.

    Args:
        picture: the registry's tables.
        first: first month, as ``2024-01``.
        last: last month, inclusive.
    """
    found = []
    for subject, (table, day) in SUBJECTS.items():
        done = "AND not_done IS NULL" if table == "examination" else ""
        rows = picture.execute(
            f"SELECT strftime({day}, '%Y-%m') AS month, count(*), median(late), quantile_disc(late, 0.9), "
            f"avg((late <= 7)::INT) "
            f"FROM (SELECT *, date_diff('day', {day}, created_at::DATE) AS late FROM {table}) "
            f"WHERE strftime({day}, '%Y-%m') BETWEEN ? AND ? {done} GROUP BY month ORDER BY month",
            [first, last],
        ).fetchall()
        found += [Delay(subject, *row) for row in rows]
    return found
