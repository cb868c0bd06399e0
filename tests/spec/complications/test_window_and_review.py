"""Which days are in, what an onset known to the month settles, and who counts as reviewed."""

from __future__ import annotations

import pandas as pd
import pytest

from analysis.outcomes.complications.reviewed import reviewed, vital_status_known
from analysis.outcomes.complications.window import within

AS_OF = pd.Timestamp("2025-06-30")
OPERATED = "2024-03-01"


def told(low: str | None, high: str | None, *, days: int = 30, after: str = OPERATED) -> str:
    """yes, no, or open."""
    dated = [pd.Series(pd.to_datetime([one])) for one in (low, high, after)]
    ends = pd.Series(pd.to_datetime([OPERATED])) + pd.Timedelta(days=days)
    (sure,), (maybe,) = within(low=dated[0], high=dated[1], after=dated[2], ends=ends, as_of=AS_OF)
    assert maybe or not sure
    return "yes" if sure else "open" if maybe else "no"


@pytest.mark.parametrize(
    ("low", "high", "days", "expected"),
    [
        ("2024-03-01", "2024-03-01", 30, "yes"),  # day 0 is the operation
        ("2024-03-31", "2024-03-31", 30, "yes"),  # day 30 is in
        ("2024-04-01", "2024-04-01", 30, "no"),
        ("2024-05-30", "2024-05-30", 90, "yes"),
        ("2024-05-31", "2024-05-31", 90, "no"),
        ("2024-03-01", "2024-03-31", 30, "yes"),  # known to the month, all of which is in
        ("2024-04-01", "2024-04-30", 30, "no"),
        ("2024-05-01", "2024-05-31", 90, "open"),  # day 90 is 30 May
        ("2024-01-01", "2024-12-31", 30, "open"),  # known to the year
        (None, None, 30, "open"),
        ("2024-02-01", "2024-02-29", 30, "open"),  # before the operation: it contradicts, and decides nothing
    ],
)
def test_a_day_and_an_interval_against_the_window(low: str | None, high: str | None, days: int, expected: str):
    assert told(low, high, days=days) == expected


def test_nothing_begins_before_its_operation_or_after_the_as_of_date():
    assert told("2024-02-01", "2024-03-31") == "yes"  # the part before the operation cannot be
    assert told("2025-06-01", "2025-12-31", days=486) == "yes"  # day 486 is 30 June 2025, the as-of date


def test_an_onset_is_no_earlier_than_its_own_main_operation():
    # Also after an operation of 1 March, main operation on 2 April: day 32.
    assert told(None, None, after="2024-04-02") == "no"


def frame(**columns: list[object]) -> pd.DataFrame:
    made = pd.DataFrame(columns)
    for name in made.columns:
        if name != "patient_id":
            made[name] = pd.to_datetime(made[name])
    return made


UNIT = frame(patient_id=[1], operated_on=[OPERATED])
NOBODY = frame(patient_id=[], on_low=[])


@pytest.mark.parametrize(
    ("known_to", "days", "expected"),
    [("2024-03-31", 30, True), ("2024-03-30", 30, False), ("2024-05-30", 90, True), ("2024-05-29", 90, False)],
)
def test_a_review_reaches_the_day_or_does_not(known_to: str, days: int, expected: bool):
    seen, by_death = reviewed(UNIT, frame(patient_id=[1], known_to=[known_to]), NOBODY, days)
    assert (seen[0], by_death[0]) == (expected, False)


def test_the_reviews_of_others_do_not_count():
    assert not reviewed(UNIT, frame(patient_id=[2], known_to=["2025-01-01"]), NOBODY, 30)[0][0]


def test_death_in_the_window_ends_what_there_is_to_review():
    contact = frame(patient_id=[1], known_to=["2024-03-10"])
    for died, expected in (("2024-03-12", True), ("2024-03-31", True), ("2024-04-01", False)):
        seen, by_death = reviewed(UNIT, contact, frame(patient_id=[1], on_low=[died]), 30)
        assert (seen[0], by_death[0]) == (expected, expected)
    late = frame(patient_id=[1], known_to=["2024-05-01"])
    seen, by_death = reviewed(UNIT, late, frame(patient_id=[1], on_low=["2024-03-12"]), 30)
    assert (seen[0], by_death[0]) == (True, False)


def test_whether_a_patient_lived_is_known_from_a_contact_a_day_alive_or_a_death():
    nobody, no_day = frame(patient_id=[], contacted_on=[]), frame(patient_id=[], alive_on=[])
    seen = frame(patient_id=[1], contacted_on=["2024-03-31"])
    alive = frame(patient_id=[1], alive_on=["2024-03-31"])
    died = frame(patient_id=[1], on_low=["2025-01-01"])
    assert not vital_status_known(UNIT, nobody, NOBODY, no_day, 30)[0]
    assert vital_status_known(UNIT, seen, NOBODY, no_day, 30)[0]
    assert not vital_status_known(UNIT, seen, NOBODY, no_day, 31)[0]
    assert vital_status_known(UNIT, nobody, NOBODY, alive, 30)[0]
    assert vital_status_known(UNIT, nobody, died, no_day, 30)[0]
