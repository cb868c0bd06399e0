"""The same seed gives the same patients, in every shape."""

from __future__ import annotations

import hashlib

import numpy as np
import pytest

from registry.schema.errors import GravelbookError
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.records import records
from synthetic_cohort.synthesis import demo_records
from synthetic_cohort.workbook import write_workbook

TABLES = ("patients", "operations", "sides", "examinations", "readings")


def test_a_cohort_is_the_same_for_the_same_seed():
    first, second = cohort(Parameters(), 400, 11), cohort(Parameters(), 400, 11)
    for table in TABLES:
        for name, values in getattr(first, table).items():
            np.testing.assert_array_equal(values, getattr(second, table)[name], err_msg=f"{table}.{name}")


def test_another_seed_gives_another_cohort():
    first, second = cohort(Parameters(), 400, 11), cohort(Parameters(), 400, 12)
    assert first.patients["age"].tolist() != second.patients["age"].tolist()


def test_the_demo_is_the_same_every_time(demo):
    assert demo_records() == demo


def test_the_workbook_has_the_same_bytes(tmp_path):
    digests = set()
    for name in ("a.xlsx", "b.xlsx"):
        write_workbook(records(cohort(Parameters(), 60, 5)), tmp_path / name)
        digests.add(hashlib.sha256((tmp_path / name).read_bytes()).hexdigest())
    assert len(digests) == 1


def test_writing_records_leaves_the_cohort_as_it_is():
    drawn = cohort(Parameters(), 200, 3)
    before = {table: {n: v.copy() for n, v in getattr(drawn, table).items()} for table in TABLES}
    records(drawn)
    for table in TABLES:
        assert getattr(drawn, table).keys() == before[table].keys()
        for name, values in before[table].items():
            np.testing.assert_array_equal(values, getattr(drawn, table)[name])


@pytest.mark.parametrize("size", [1, 2, 37, 1500])
def test_the_size_is_the_number_of_operations(size):
    drawn = cohort(Parameters(), size, 8)
    assert len(drawn.operations["on"]) == size
    looks = sum(row["purpose"] == "diagnostic" for row in records(drawn)["operation"])
    assert len(records(drawn)["operation"]) - looks == size


def test_links_of_a_cohort_lead_to_rows():
    drawn = cohort(Parameters(), 800, 4)
    sides, operations = drawn.sides, drawn.operations
    np.testing.assert_array_equal(operations["patient"][sides["operation"]], sides["patient"])
    np.testing.assert_array_equal(sides["operation"][operations["first_side"]], np.arange(800))
    np.testing.assert_array_equal(sides["operation"][operations["second_side"]], np.arange(800))
    later = sides["parent"] >= 0
    assert later.any()
    np.testing.assert_array_equal(sides["left"][later], sides["left"][sides["parent"][later]])
    assert (operations["on"][sides["operation"]][later] == sides["next_on"][sides["parent"][later]]).all()


def test_operations_lie_within_the_calendar_and_on_working_days():
    drawn = cohort(Parameters(), 1500, 6)
    on = drawn.operations["on"]
    assert on.min() >= np.datetime64("2019-01-07")
    assert on.max() <= np.datetime64("2024-12-13")
    assert np.is_busday(on).all()


@pytest.mark.parametrize(("size", "seed"), [(0, 1), (-3, 1), (5, -1)])
def test_impossible_sizes_are_refused_in_words(size, seed):
    with pytest.raises(GravelbookError, match="cannot be drawn"):
        cohort(Parameters(), size, seed)
