"""A published series rebuilt: why events over people is no complication rate.

Ibrahim, Urol Ann 2015 (148 semirigid ureteroscopies): any complication in 26.35 %, that is 39 people; events by grade
I 32, II 9, IIIa 7, IIIb 8, IVa 2, IVb 1, V 0, that is 59. The paper prints 26.1 % for grade I; 32 of 148 is 21.6 %.
Who had which events together is not printed: here 20 of the 39 have two, a grade I beside a worse one.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cohort.rows import Rows
from tests.reports.complications.asked import found
from tests.reports.complications.ward import complication, operated, reviewed

GRADES = {"I": 32, "II": 9, "IIIa": 7, "IIIb": 8, "IVa": 2, "IVb": 1}
TREATED = {
    "I": (["antipyretic"], 0),
    "II": (["antibiotic"], 0),
    "IIIa": (["stent_placed:local"], 0),
    "IIIb": (["ureteroscopy:general"], 0),
    "IVa": (["intensive_care"], 1),
    "IVb": (["intensive_care"], 2),
}
PEOPLE, WITH_ANY = 148, 39


@pytest.fixture(scope="module")
def series() -> Rows:
    rows = Rows()
    people = [operated(rows, techniques=("semirigid",)) for _ in range(PEOPLE)]
    worse = [grade for grade, number in GRADES.items() if grade != "I" for _ in range(number)]  # 27
    mild = WITH_ANY - len(worse)  # 12 people with a grade I alone
    for place, operation in enumerate(people):
        reviewed(rows, operation, 60)
        events = [worse[place]] if place < len(worse) else ["I"] if place < WITH_ANY else []
        events += ["I"] if place < GRADES["I"] - mild else []
        for grade in events:
            therapies, organs = TREATED[grade]
            complication(rows, operation, "fever", 2, therapies, organs_failing=organs)
    return rows


def test_the_rate_is_of_people(series: Rows, tmp_path: Path):
    rate = found(series, tmp_path, "grades", "measure", grades="rule")["any complication",]
    assert (rate["n"], rate["events"]) == (148, 39)
    assert round(100 * rate["estimate"], 2) == 26.35
    assert rate["lower"] == rate["estimate"] == rate["upper"]  # everybody was reviewed


def test_events_are_counts_and_more_than_the_people_with_one(series: Rows, tmp_path: Path):
    (row,) = found(series, tmp_path, "events", show="events", grades="rule").values()
    assert {grade: row[grade] for grade in GRADES} == GRADES
    assert (row["events"], row["patients"], row["estimate"]) == (59, 39, None)


def test_worst_grades_of_people_add_up_to_the_people(series: Rows, tmp_path: Path):
    worst = found(series, tmp_path, "worst", "worst", grades="rule")
    assert sum(row["events"] for row in worst.values()) == 148
    assert worst["none",]["events"] == 148 - 39
    # 32 events of grade I, and 12 people whose worst it was; not the printed 26.1 % either way.
    assert worst["I",]["events"] == 12
    assert round(100 * 32 / 148, 1) == 21.6
