"""When a course without an index operation is asked about, and when it may have begun before the registry."""

from __future__ import annotations

from collections.abc import Iterator

import duckdb
import pytest

from tests.validation.rule_cases.changes import Changes, engine_of, judged
from tests.validation.rule_cases.whole_case import LEFT, RIGHT, day, whole_case

RULE = "treated_side.stage_number.has_index"
BLANK: Changes = {"treated_side.3.stage_number": None}


@pytest.fixture(scope="module")
def engine() -> Iterator[duckdb.DuckDBPyConnection]:
    with engine_of(whole_case()) as made:
        yield made


def asked_of(engine: duckdb.DuckDBPyConnection, changes: Changes) -> list[int]:
    found = judged(engine, RULE, changes)
    assert found.fault == ""
    return [each.row for each in found.broken]


def elsewhere(on: int, unit: int = RIGHT, what: str = "retreatment") -> Changes:
    entry = {"id": 9, "patient_id": 1, "occurred_on": day(on), "what": what, "renal_unit_id": unit}
    return {**BLANK, "+later_entry": entry}


@pytest.mark.parametrize(
    ("changes", "rows"),
    [
        (BLANK, [3]),
        ({**BLANK, "renal_unit.2.prior_stone_surgery": "no"}, [3]),
        ({"treated_side.3.stage_number": 1, "renal_unit.2.prior_stone_surgery": "no"}, [3]),
        # Of two sides without an index the first is asked about, once.
        ({"treated_side.1.stage_number": None, "treated_side.2.stage_number": None}, [1]),
        # A drainage does not stand for the course; the first side where stones were meant to be removed does.
        ({"treated_side.1.stage_number": None, "treated_side.1.intent": "drainage",
          "treated_side.2.stage_number": None}, [2]),
        # What was done later, on the other side, or was no treatment, is no earlier operation.
        (elsewhere(60), [3]),
        (elsewhere(-60, LEFT), [3]),
        (elsewhere(-60, what="stricture"), [3]),
    ],
)  # fmt: skip
def test_it_is_asked(engine: duckdb.DuckDBPyConnection, changes: Changes, rows: list[int]) -> None:
    assert asked_of(engine, changes) == rows


@pytest.mark.parametrize(
    "changes",
    [
        {**BLANK, "renal_unit.2.prior_stone_surgery": "yes"},
        {"treated_side.3.stage_number": 1, "renal_unit.2.prior_stone_surgery": "yes"},
        elsewhere(-60),
        {**BLANK, "treated_side.3.intent": "drainage"},  # its index may come yet
        {**BLANK, "treated_side.3.course_id": None},  # an unplanned retreatment without a course
        {"treated_side.1.stage_number": None, "treated_side.2.stage_number": 0},  # the order is another rule's
        {"-treated_side.3": None},  # a course without treated sides
    ],
)
def test_it_is_not_asked(engine: duckdb.DuckDBPyConnection, changes: Changes) -> None:
    assert asked_of(engine, changes) == []


def test_a_reason_in_place_of_the_stage_leaves_it_open(engine: duckdb.DuckDBPyConnection) -> None:
    found = judged(engine, RULE, {**BLANK, "treated_side.3.missing_reasons": "satava=lost;stage_number=not_recorded;"})
    assert (found.fault, found.broken, found.not_computable) == ("", (), 1)
    assert asked_of(engine, {**BLANK, "treated_side.3.missing_reasons": "satava=not_recorded;"}) == [3]
