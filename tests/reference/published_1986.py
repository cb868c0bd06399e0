"""Seven hundred patients of 1972 to 1985, rebuilt from published counts as rows of the intake workbook.

Charig CR, Webb DR, Payne SR, Wickham JEA, Br Med J 1986;292:879-882 print how many of 350 open operations and of 350
percutaneous nephrolithotomies left no stone, or nothing of 2 mm or more, after three months: 273 and 289. Julious SA,
Mullee MA, BMJ 1994;309:1480-1481 print the same by the size of the stone, below 2 cm and 2 cm or more. The four
counts are theirs; which day of the period, which millimetres and which kidney somebody had is made up here, and so is
the finding: none seen on a plain film of day 90 for a success, a fragment of 5 mm for a failure.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

SITE = {"site": "H"}
# (technique, 2 cm or more): stone-free, treated. Julious and Mullee 1994; the totals are Charig and others' 1986.
COUNTS = {
    ("open", False): (81, 87),
    ("open", True): (192, 263),
    ("percutaneous", False): (234, 270),
    ("percutaneous", True): (55, 80),
}
# Open operations were of 1972 to 1980, percutaneous ones of 1980 to 1985.
BEGAN = {"open": dt.date(1972, 1, 3), "percutaneous": dt.date(1980, 1, 7)}
PERIOD_DAYS = 1900
LENGTHS_MM = {False: (9.0, 15.5, 19.9), True: (20.0, 27.0, 41.0)}

Row = dict[str, Any]
Rows = dict[str, list[Row]]


def published_patients() -> Rows:
    """The rows by sheet: one patient, one kidney, one stone, one operation, one film each."""
    rows: Rows = {"site": [{**SITE, "name": "Published series", "time_zone": "Europe/London"}]}
    for (technique, large), (free, treated) in COUNTS.items():
        for number in range(treated):
            _patient(rows, technique, large, number, stone_free=number < free)
    return rows


def _patient(rows: Rows, technique: str, large: bool, number: int, *, stone_free: bool) -> None:
    key = {**SITE, "study_number": f"{technique[:4]}-{'large' if large else 'small'}-{number + 1:03d}"}
    on = BEGAN[technique] + dt.timedelta(days=37 * number % PERIOD_DAYS)
    unit = {"unit": ("left", "right")[number % 2], "unit_number": 1}
    course = {"course_number": 1}
    side = {**key, "operated_on": on, "day_number": 1, **unit}
    film = {**key, "examined_on": on + dt.timedelta(days=90), "modality": "kub", "examination_number": 1}
    reading = {**film, **unit, "reading_number": 1}
    made: Rows = {
        "patient": [key],
        "renal_unit": [{**key, **unit}],
        "course": [{**key, **unit, **course}],
        "stone": [{**key, **unit, **course, "stone_number": 1, "length_mm": LENGTHS_MM[large][number % 3]}],
        "operation": [{**key, "operated_on": on, "day_number": 1, "purpose": "stone_removal"}],
        "treated_side": [
            {**side, **course, "stage_number": 0, "intent": "stone_removal", "conduct": "completed"}
            | {"technique": technique}
        ],
        "stone_aim": [{**side, **course, "stone_number": 1, "aim": "aimed_at"}],
        "examination": [film],
        "reading": [{**reading, "finding": "none_seen" if stone_free else "fragments"}],
    }
    if not stone_free:
        size = {"diameter_low_mm": 5, "diameter_high_mm": 5}
        made["fragment"] = [{**reading, "fragment_number": 1, "kind": "single", **size}]
    for sheet, added in made.items():
        rows.setdefault(sheet, []).extend(added)
