"""Every number leads back to its cases."""

from __future__ import annotations

import csv
import io

import pytest

from analysis.reports.stone_free.cases import case_list, cases_csv

from .made import (
    ABANDONED,
    DIED,
    FAILED,
    FREE,
    NOT_DUE,
    OUT,
    PLANNED,
    SEEN_BADLY,
    UNPLANNED,
    UNSCANNED,
    answer,
    sides_of,
    statuses,
    unit,
)

RESULTS = (FREE, FAILED, SEEN_BADLY, UNSCANNED, PLANNED, UNPLANNED, ABANDONED, NOT_DUE, DIED, OUT)


def lines(**typed: str) -> tuple[list[dict[str, str]], list[dict[str, object]], list[str]]:
    units = [unit(first, second) for first in RESULTS for second in (RESULTS[:3] if first in RESULTS[:3] else (first,))]
    frame = statuses(units)
    sides = sides_of(frame, arm=["a", "b", None, "b"] * 4)
    made = answer(frame, sides, by="arm", unscanned="complete,lower,upper", **typed)
    written = list(csv.DictReader(io.StringIO(cases_csv(case_list(made, sides)).decode())))
    return written, made.rows.to_dict("records"), made.grouping.named()  # type: ignore[return-value]


def test_the_counts_of_the_cases_are_those_of_the_rows():
    cases, rows, names = lines()
    assert len(rows) == 3 * 2 * 3
    for row in rows:
        cell = [
            case
            for case in cases
            if case["group"] == names[row["group"]]  # type: ignore[index]
            and float(case["threshold_mm"]) == row["threshold_mm"]
        ]
        status = [case["status"] for case in cell]
        rung = [case["rung"] for case in cell]
        known, unknown = status.count("free") + status.count("failed"), status.count("unknown")
        assert row["eligible"] == known + unknown
        assert row["n"] == (known if row["unscanned"] == "complete" else known + unknown)
        assert row["stone_free"] == status.count("free") + (unknown if row["unscanned"] == "upper" else 0)
        assert (row["unknown"], row["not_due"], row["died"]) == (unknown, status.count("not_due"), status.count("died"))
        for name in ("retreated_planned", "retreated_unplanned", "abandoned"):
            assert row[name] == rung.count(name)
        assert row["failed_inadequate"] == [case["failed_inadequate"] for case in cell].count("yes")


def test_every_unit_is_listed_at_every_threshold_also_those_outside():
    cases, _, _ = lines()
    assert len(cases) == 2 * 16
    assert {case["status"] for case in cases} == {"free", "failed", "unknown", "not_due", "died", "out"}


def test_a_case_names_its_study_or_the_rung_that_decided_without_one():
    cases, _, _ = lines()
    seen = next(case for case in cases if case["rung"] == "study_free")
    assert seen["picked_study"].startswith("5")
    assert (seen["examined_on"], seen["modality"], seen["slice_mm"]) == ("2025-02-01", "ct", "1.0")
    unseen = next(case for case in cases if case["rung"] == "abandoned")
    assert (unseen["picked_study"], unseen["examined_on"], unseen["modality"]) == ("abandoned", "", "")


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_study_number_is_never_a_formula(start: str):
    frame = statuses([unit(FREE, FREE)])
    sides = sides_of(frame)
    sides["study_number"] = f"{start}1+1"
    (case, _) = csv.DictReader(io.StringIO(cases_csv(case_list(answer(frame, sides), sides)).decode()))
    assert case["study_number"] == f"'{start}1+1"


@pytest.mark.parametrize("column", ["study_number", "renal_unit", "operated_on"])
def test_a_case_says_who_and_when_by_study_number(column: str):
    cases, _, _ = lines()
    assert {case[column] for case in cases} - {""} == {case[column] for case in cases}
