"""What exact tests refuse, and their laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from analysis.estimators.exact_tables import several_groups, two_by_two

UNHURRIED = settings(deadline=None)  # the first call loads a library
SIZES = st.integers(1, 25)


@st.composite
def tables(draw: st.DrawFn, groups: int = 2) -> tuple[list[int], list[int]]:
    totals = [draw(SIZES) for _ in range(groups)]
    events = [draw(st.integers(0, size)) for size in totals]
    assume(0 < sum(events) < sum(totals))
    return events, totals


@given(tables())
@UNHURRIED
def test_fisher_s_p_is_the_library_s_and_mid_p_is_below_it(table: tuple[list[int], list[int]]) -> None:
    (a, b), (m, k) = table
    found = two_by_two(events=(a, b), totals=(m, k))
    assert found.fisher.p == pytest.approx(stats.fisher_exact([[a, m - a], [b, k - b]]).pvalue)
    assert found.mid_p.p < found.fisher.p


@given(tables())
@UNHURRIED
def test_of_two_groups_both_exact_tests_are_fisher_s(table: tuple[list[int], list[int]]) -> None:
    events, totals = table
    found = several_groups(events=events, totals=totals)
    assert found.exact.p == pytest.approx(two_by_two(events=tuple(events), totals=tuple(totals)).fisher.p)
    assert found.trend.statistic**2 == pytest.approx(found.pearson.statistic)


@given(tables(3), st.permutations([0, 1, 2]))
@UNHURRIED
def test_order_matters_to_the_trend_alone(table: tuple[list[int], list[int]], order: list[int]) -> None:
    events, totals = table
    one = several_groups(events=events, totals=totals)
    moved = [events[at] for at in order], [totals[at] for at in order]
    other = several_groups(events=moved[0], totals=moved[1])
    assert other.exact.p == pytest.approx(one.exact.p)
    assert other.pearson.p == pytest.approx(one.pearson.p)
    carried = several_groups(events=moved[0], totals=moved[1], scores=order)
    assert carried.trend.statistic == pytest.approx(one.trend.statistic, abs=1e-12)
    assert carried.trend_exact.p == pytest.approx(one.trend_exact.p)


@given(tables(3), st.floats(0.1, 10), st.floats(-5, 5))
@UNHURRIED
def test_scores_on_another_line_change_nothing(table: tuple[list[int], list[int]], slope: float, shift: float) -> None:
    one = several_groups(events=table[0], totals=table[1])
    other = several_groups(events=table[0], totals=table[1], scores=[shift + slope * at for at in range(3)])
    assert other.trend.statistic == pytest.approx(one.trend.statistic, abs=1e-9)
    assert other.trend_exact.p == pytest.approx(one.trend_exact.p)


@given(tables(3))
@UNHURRIED
def test_the_exact_test_is_the_library_s_chance_of_the_tables(table: tuple[list[int], list[int]]) -> None:
    events, totals = table
    law = stats.multivariate_hypergeom(totals, sum(events))
    every = [
        float(law.pmf([i, j, sum(events) - i - j])) for i in range(totals[0] + 1) for j in range(sum(events) - i + 1)
    ]
    own = float(law.pmf(events))
    assert sum(every) == pytest.approx(1)
    p = sum(chance for chance in every if chance <= own * (1 + 1e-7))
    assert several_groups(events=events, totals=totals).exact.p == pytest.approx(p)


@given(tables())
@UNHURRIED
def test_limits_hold_the_estimate_and_mid_p_ones_are_narrower(table: tuple[list[int], list[int]]) -> None:
    found = two_by_two(events=tuple(table[0]), totals=tuple(table[1]))
    exact, middle = found.conditional, found.conditional_mid_p
    assert exact.low <= middle.low * (1 + 1e-6) and middle.high <= exact.high * (1 + 1e-6)
    assert middle.low <= exact.estimate <= middle.high
    assert middle.low < middle.high
    turned = two_by_two(events=(table[0][1], table[0][0]), totals=(table[1][1], table[1][0]))
    if middle.low > 0 and math.isfinite(middle.high):
        assert turned.conditional_mid_p.high == pytest.approx(1 / middle.low)
        assert turned.conditional.estimate == pytest.approx(1 / exact.estimate, rel=1e-4)


def test_an_empty_cell_has_one_limit() -> None:
    none, all_ = two_by_two(events=(0, 5), totals=(10, 10)), two_by_two(events=(10, 5), totals=(10, 10))
    assert (none.conditional.estimate, none.conditional.low) == (0, 0)
    assert math.isinf(all_.conditional.estimate or 0) and math.isinf(all_.conditional.high or 0)
    assert (none.crude.low, none.crude.reason) == (None, "a cell is 0: no logit limits")


@pytest.mark.parametrize(
    ("events", "totals", "reason"),
    [
        ((0, 0), (5, 5), "all have the outcome, or nobody has"),
        ((5, 5), (5, 5), "all have the outcome, or nobody has"),
        ((0, 3), (0, 5), "a group is empty"),
    ],
)
def test_a_table_that_says_nothing_has_a_reason_and_no_number(
    events: tuple[int, int], totals: tuple[int, int], reason: str
) -> None:
    found = two_by_two(events=events, totals=totals)
    for test in (found.fisher, found.mid_p, found.pearson, found.yates):
        assert test.p is None and (test.reason or "").startswith(reason)
    for ratio in (found.crude, found.conditional, found.conditional_mid_p):
        assert ratio.estimate is None and (ratio.reason or "").startswith(reason)


def test_too_many_tables_are_not_counted_one_by_one() -> None:
    found = several_groups(events=[300] * 4, totals=[900] * 4)
    assert found.exact.p is None and "more than 2,000,000 tables" in (found.exact.reason or "")
    assert found.pearson.p == pytest.approx(1)


@pytest.mark.parametrize(
    ("events", "totals", "scores", "said"),
    [
        ([3, 1], [2, 5], None, "more events than members"),
        ([1], [5], None, "at least two groups"),
        ([1, 2], [5, 5, 5], None, "equal length"),
        ([1.5, 2], [5, 5], None, "events must be whole numbers"),
        ([1, 2], [5, np.nan], None, "totals must be whole numbers"),
        ([-1, 2], [5, 5], None, "events must be whole numbers"),
        ([1, 2], [5, 5], [1, 1], "not all alike"),
        ([1, 2], [5, 5], [1, 2, 3], "one number a group"),
    ],
)
def test_impossible_tables_are_refused(
    events: list[int], totals: list[int], scores: list[float] | None, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        several_groups(events=events, totals=totals, scores=scores)
