"""Who a side is counted under, its technique, and how many such cases that person had done before."""

from __future__ import annotations

from pathlib import Path

import pandas as pd

from tests.cohort.rows import Rows, day


def test_techniques_are_joined_in_the_order_of_the_list(rows: Rows, folder: Path) -> None:
    side = rows.side(techniques=("percutaneous", "semirigid", "flexible"))
    assert rows.row(folder, side)["technique"] == "flexible+semirigid+percutaneous"


def test_a_technique_that_is_not_recorded_is_a_group_of_its_own(rows: Rows, folder: Path) -> None:
    row = rows.row(folder, rows.side(techniques=()))
    assert row["technique"] == "not recorded"
    assert row["operator"] == "not recorded"


def test_the_operator_of_a_side_goes_before_the_operator_of_the_operation(rows: Rows, folder: Path) -> None:
    patient = rows.patient()
    operation = rows.operation(patient)
    left = rows.side(rows.unit(patient, "left"), operation=operation)
    right = rows.side(rows.unit(patient, "right"), operation=operation)
    rows.operated(left, rows.operator("ONE"), part="left_side", grade="consultant")
    rows.operated(left, rows.operator("TWO"), grade="fellow")
    frame = rows.cohort(folder).sides_frame.set_index("side_id")
    assert list(frame.loc[[left, right], "operator"]) == ["ONE", "TWO"]
    assert list(frame.loc[[left, right], "operator_grade"]) == ["consultant", "fellow"]


def test_a_transplant_lies_on_neither_side(rows: Rows, folder: Path) -> None:
    side = rows.side(rows.unit(unit="transplant"))
    rows.operated(side, rows.operator("ONE"), part="left_side")
    assert rows.row(folder, side)["operator"] == "ONE"


def test_two_first_operators_share_a_side(rows: Rows, folder: Path) -> None:
    side = rows.side()
    rows.operated(side, rows.operator("ONE", flexible=10), grade="fellow", supervision="independent")
    rows.operated(side, rows.operator("TWO", flexible=20), grade="consultant", supervision="independent")
    row = rows.row(folder, side)
    assert row["operator"] == "shared"
    assert pd.isna(row["operator_grade"])
    assert row["supervision"] == "independent"
    assert pd.isna(row["operator_prior_cases"])
    assert pd.isna(row["operator_cases_here"])


def test_one_person_named_twice_and_an_assistant_do_not_share(rows: Rows, folder: Path) -> None:
    side, one = rows.side(), rows.operator("ONE")
    rows.operated(side, one, part="access")
    rows.operated(side, one, part="lithotripsy")
    rows.operated(side, rows.operator("TWO"), role="assistant")
    assert rows.row(folder, side)["operator"] == "ONE"


def test_a_code_that_two_sites_use_is_told_apart(rows: Rows, folder: Path) -> None:
    rows.add("site", code="B", name="Site B")
    first, second = rows.side(), rows.side(rows.unit(rows.patient(site_id=2)))
    rows.operated(first, rows.operator("ONE"))
    rows.operated(second, rows.operator("ONE", site=2))
    assert list(rows.cohort(folder).sides_frame["operator"]) == ["A:ONE", "B:ONE"]


def test_earlier_cases_are_those_of_the_technique_on_earlier_days(rows: Rows, folder: Path) -> None:
    one = rows.operator("ONE", flexible=30)
    techniques = [("flexible",), ("flexible", "semirigid"), ("semirigid",), ("flexible",), ("flexible",)]
    days = [0, 5, 6, 7, 7]
    for on, used in zip(days, techniques, strict=True):
        rows.operated(rows.side(on=on, techniques=used), one)
    frame = rows.cohort(folder).sides_frame
    # The third is semirigid: the second used that as well. The last two are on one day: neither is before the other.
    assert list(frame["operator_cases_here"]) == [0, 1, 1, 2, 2]
    assert list(frame["operator_prior_cases"].fillna(-1)) == [30 + 0, 30 + 1, -1, 30 + 2, 30 + 2]


def test_an_operation_that_was_not_started_is_no_case(rows: Rows, folder: Path) -> None:
    one = rows.operator("ONE")
    rows.operated(rows.side(on=0, conduct="not_started"), one)
    later = rows.side(on=1)
    rows.operated(later, one)
    assert rows.row(folder, later)["operator_cases_here"] == 0


def test_two_sides_of_one_operation_are_one_case(rows: Rows, folder: Path) -> None:
    one, patient = rows.operator("ONE"), rows.patient()
    operation = rows.operation(patient, 0)
    left = rows.side(rows.unit(patient, "left"), operation=operation)
    rows.side(rows.unit(patient, "right"), operation=operation)
    rows.operated(left, one)
    later = rows.side(on=3)
    rows.operated(later, one)
    frame = rows.cohort(folder).sides_frame
    assert list(frame["operator_cases_here"]) == [0, 0, 1]
    assert list(frame["bilateral"]) == ["yes", "yes", "no"]
    assert list(frame["operated_on"]) == [pd.Timestamp(day(0))] * 2 + [pd.Timestamp(day(3))]
