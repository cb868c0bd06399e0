"""How far the later course is known: who was scanned in the window, by what, and who was reviewed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb


@dataclass(frozen=True)
class FollowUp:
    """One month of operations.

    Attributes:
        month: of the operation.
        sides: treated sides on which stone removal was intended, started, in patients alive when their window closed.
        scanned: of these, sides with a reading in the window.
        by_modality: scanned sides by the best examination they had.
        operations: operations whose day of review has passed, of patients alive then.
        reviewed: of these, operations with a contact or review on or after it.
    """

    month: str
    sides: int
    scanned: int
    by_modality: dict[str, int]
    operations: int
    reviewed: int


_SIDES = """
SELECT strftime(o.operated_on, '%Y-%m') AS month, s.id, o.operated_on, o.patient_id, s.renal_unit_id
FROM treated_side s JOIN operation o ON o.id = s.operation_id JOIN patient p ON p.id = o.patient_id
WHERE s.intent = 'stone_removal' AND coalesce(s.conduct, 'completed') NOT IN ('not_started', 'no_stone_found')
  AND o.operated_on + $close::INT <= $as_of::DATE
  AND (p.died_on IS NULL OR p.died_on > o.operated_on + $close::INT)
  AND strftime(o.operated_on, '%Y-%m') BETWEEN $first AND $last
"""
_SCANS = """
SELECT side.month, side.id, min_by(e.modality, CASE e.modality
    WHEN 'second_look' THEN 0 WHEN 'ct' THEN 1 WHEN 'ultrasound' THEN 2 WHEN 'kub' THEN 3 ELSE 4 END) AS modality
FROM side JOIN examination e ON e.patient_id = side.patient_id AND e.not_done IS NULL
  AND e.examined_on BETWEEN side.operated_on + $open::INT AND side.operated_on + $close::INT
JOIN reading r ON r.examination_id = e.id AND r.renal_unit_id = side.renal_unit_id
GROUP BY ALL
"""
_REVIEWS = """
SELECT strftime(o.operated_on, '%Y-%m') AS month, count(*), count(*) FILTER (WHERE EXISTS (
    SELECT 1 FROM contact c WHERE c.patient_id = o.patient_id AND c.contacted_on >= o.operated_on + $review::INT))
FROM operation o JOIN patient p ON p.id = o.patient_id
WHERE o.operated_on + $review::INT <= $as_of::DATE AND (p.died_on IS NULL OR p.died_on > o.operated_on + $review::INT)
  AND o.purpose = 'stone_removal' AND strftime(o.operated_on, '%Y-%m') BETWEEN $first AND $last
GROUP BY month
"""


def follow_up(
    picture: duckdb.DuckDBPyConnection, *, as_of: str, window: tuple[int, int], review_days: int, first: str, last: str
) -> list[FollowUp]:
    """Count scans in the window and reviews, by month of operation.

    Args:
        picture: the registry's tables.
        as_of: the day on which it is asked, as ``2024-06-30``; windows that are still open do not count.
        window: first and last day after the operation, inclusive.
        review_days: from which day after the operation a contact or review settles its course.
        first: first month, as ``2024-01``.
        last: last month, inclusive.
    """
    opens, closes = window
    given = {"as_of": as_of, "open": opens, "close": closes, "review": review_days, "first": first, "last": last}

    def run(sql: str) -> duckdb.DuckDBPyConnection:
        return picture.execute(sql, {name: value for name, value in given.items() if f"${name}" in sql})

    run(f"CREATE OR REPLACE TEMP TABLE side AS {_SIDES}")
    sides = dict(run("SELECT month, count(*) FROM side GROUP BY month").fetchall())
    scans: dict[str, dict[str, int]] = {}
    for month, modality, count in run(
        f"SELECT month, modality, count(*) FROM ({_SCANS}) GROUP BY ALL ORDER BY count(*) DESC, modality"
    ).fetchall():
        scans.setdefault(month, {})[modality] = count
    reviews = {month: (operations, reviewed) for month, operations, reviewed in run(_REVIEWS).fetchall()}
    return [
        FollowUp(
            month,
            sides.get(month, 0),
            sum(scans.get(month, {}).values()),
            scans.get(month, {}),
            *reviews.get(month, (0, 0)),
        )
        for month in sorted({*sides, *reviews})
    ]
