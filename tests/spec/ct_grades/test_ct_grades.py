"""CT grades A to D: how many fragments, how large the largest, and what is not said.

The grades: Gauhar V and others, World J Urol 2025;43(1), doi 10.1007/s00345-025-05570-z (abstract).
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pandas as pd
import pytest

from analysis.outcomes.ct_grades import (
    COARSE,
    COUNT_OPEN,
    NOT_READ,
    SERIES,
    SIZE_OPEN,
    Grade,
    GradeTable,
    grade_table_from_data,
    graded,
    of_several,
)
from analysis.outcomes.seen import seen
from analysis.outcomes.thresholds import DefinitionError

COLUMNS = ("reading_id", "kind", "number", "low_mm", "high_mm", "above", "source")


def one(
    low: float | None,
    high: float | None = None,
    *,
    kind: str = "single",
    number: int | None = None,
    above: bool = False,
    source: str = "not_said",
) -> dict[str, Any]:
    """A fragment of exactly `low` mm, of a range, or without a size (None)."""
    top = None if above else low if high is None else high
    size = {"low_mm": low, "high_mm": top}
    return {"reading_id": 1, "kind": kind, "number": number, "above": above, "source": source, **size}


def seen_of(*fragments: dict[str, Any], finding: str | None = "fragments") -> pd.DataFrame:
    readings = pd.DataFrame({"reading_id": [1], "examination_id": [1], "renal_unit_id": [1], "finding": [finding]})
    listed = pd.DataFrame(list(fragments), columns=list(COLUMNS))
    listed["number"] = listed["number"].astype("Int64")
    listed["above"] = listed["above"].astype("boolean")
    return seen(readings, listed)


def grade(*fragments: dict[str, Any], finding: str | None = "fragments", adequate: bool = True) -> tuple[Any, str]:
    made = graded(seen_of(*fragments, finding=finding), np.array([adequate]))
    return made.loc[0, "grade"], str(made.loc[0, "reason"])


@pytest.mark.parametrize(
    ("fragments", "expected"),
    [
        ((), "A"),
        ((one(0.5),), "B"),
        ((one(2.0),), "B"),
        ((one(2.05),), "C"),  # the series leaves 2.0 to 2.1 open
        ((one(2.1),), "C"),
        ((one(4.0),), "C"),
        ((one(4.1),), "D"),
        ((one(1.0), one(1.0)), "D"),
        ((one(1.0, kind="alike"),), "D"),
        ((one(1.0, kind="cluster"),), "D"),
        ((one(1.0, number=3),), "D"),
        ((one(4.0, above=True),), "D"),
        ((one(2.5, 3.5),), "C"),
        ((one(None), one(None)), "D"),
    ],
)
def test_the_published_grades(fragments, expected):
    finding = "fragments" if fragments else "none_seen"
    assert grade(*fragments, finding=finding) == (expected, "")


@pytest.mark.parametrize(
    ("fragments", "finding", "reason"),
    [
        ((one(None),), "fragments", SIZE_OPEN),
        ((one(1.5, 3.0),), "fragments", SIZE_OPEN),
        ((one(2.0, above=True),), "fragments", SIZE_OPEN),
        ((one(0.0, 2.0),), "fragments", SIZE_OPEN),  # "at most 2 mm" may be said of a clear kidney
        ((one(1.0, kind="dust"),), "fragments", COUNT_OPEN),
        ((), "fragments", SIZE_OPEN),  # fragments seen, none listed
        ((), "indeterminate", NOT_READ),
        ((), None, NOT_READ),
    ],
)
def test_what_is_not_said_is_not_graded(fragments, finding, reason):
    assert grade(*fragments, finding=finding) == (None, reason)


def test_what_is_no_stone_does_not_count():
    assert grade(one(6.0, source="no_stone")) == ("A", "")


def test_a_coarse_ct_can_show_the_worst_grade_and_no_other():
    assert grade(one(9.0), adequate=False) == ("D", "")
    for fragments in ((), (one(1.0),), (one(3.0),)):
        finding = "fragments" if fragments else "none_seen"
        assert grade(*fragments, finding=finding, adequate=False) == (None, COARSE)


@pytest.mark.parametrize(
    ("grades", "expected"),
    [
        (["A", "A"], "A"),
        (["A", "C"], "C"),
        (["B", None], None),
        (["D", None], "D"),
        ([None, None], None),
    ],
)
def test_several_readings_have_the_worst_grade(grades, expected):
    rows = pd.DataFrame(
        {"grade": pd.Series(grades, dtype=object), "reason": ["" if one else SIZE_OPEN for one in grades]}
    )
    made = of_several(rows, pd.Series([7] * len(grades)))
    found = made.loc[7, "grade"]
    assert (None if pd.isna(found) else found) == expected
    assert made.loc[7, "reason"] == ("" if expected else SIZE_OPEN)
    assert made.loc[7, "readings"] == len(grades)


def test_a_table_of_ones_own_may_allow_several_small_ones():
    rows = [
        {"code": "0", "label": "none", "count_to": 0},
        {"code": "1", "label": "any number up to 3 mm", "size_to_mm": 3},
        {"code": "2", "label": "more"},
    ]
    table = grade_table_from_data("ours", rows, "our protocol")
    looked = seen_of(one(1.0), one(2.5))
    assert graded(looked, np.array([True]), table).loc[0, "grade"] == "1"
    assert graded(looked, np.array([True]), SERIES).loc[0, "grade"] == "D"
    assert table.as_dict()["source"] == "our protocol"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{"code": "A", "label": "a"}], "two grades or more"),
        ([{"code": "A", "label": "a", "count_to": 0}, {"code": "A", "label": "b"}], "names a grade twice"),
        ([{"code": "A", "label": "a"}, {"code": "B", "label": "b", "count_to": 2}], "The last grade"),
        (
            [
                {"code": "A", "label": "a", "count_to": 2},
                {"code": "B", "label": "b", "count_to": 1},
                {"code": "C", "label": "c"},
            ],
            "count_to falls",
        ),
        ([{"code": "A", "label": "a", "up_to": 2}, {"code": "B", "label": "b"}], "unknown up_to"),
        ([{"code": "A"}, {"code": "B", "label": "b"}], "no label"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(rows, words):
    with pytest.raises(DefinitionError, match=words):
        grade_table_from_data("ours", rows, "ours")


def test_the_name_of_the_series_is_taken():
    with pytest.raises(DefinitionError, match="is taken"):
        grade_table_from_data(SERIES.name, [], "ours")


def test_a_larger_or_further_fragment_never_makes_a_better_grade():
    table = GradeTable("t", (Grade("A", "a", 0, 0), Grade("B", "b", 1, 2), Grade("C", "c", 1, 4), Grade("D", "d")), "t")
    place = {code: at for at, code in enumerate(table.codes)}
    sizes = (0.5, 2.0, 2.1, 4.0, 4.1, 9.0)
    for small, large in itertools.pairwise(sizes):
        assert place[grade(one(small))[0]] <= place[grade(one(large))[0]]
        assert place[grade(one(small))[0]] <= place[grade(one(small), one(0.5))[0]]


def test_counts_and_sizes_are_ranges():
    looked = seen_of(one(1.0, kind="alike"), one(3.0, 5.0), one(None, kind="dust"))
    row = looked.loc[0]
    assert (row["count_low"], row["count_high"]) == (4.0, np.inf)
    assert (row["size_low"], row["size_high"]) == (3.0, np.inf)
    exact = seen_of(one(1.0, kind="alike", number=5)).loc[0]
    assert (exact["count_low"], exact["count_high"]) == (5.0, 5.0)
