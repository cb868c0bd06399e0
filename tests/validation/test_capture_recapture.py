"""The number on neither of two lists: a worked example, laws, and coverage over populations whose size is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from registry.validation.capture_recapture import chapman, share_present


def test_chapman_on_the_textbook_turtles() -> None:
    """10 marked, 15 caught later, 5 of them marked: the common textbook example, 22 to 65 (from memory)."""
    found = chapman(10, 15, 5)
    assert found.estimate == pytest.approx(11 * 16 / 6 - 1)  # 28.33
    assert found.variance == pytest.approx(11 * 16 * 5 * 10 / (6**2 * 7))  # 34.92
    spread = math.exp(1.959964 * math.sqrt(1 / 5.5 + 1 / 10.5 + 1 / 5.5 + 5.5 / (5.5 * 10.5)))
    assert found.low == pytest.approx(19.5 + 5.5 * 10.5 / 5.5 / spread, abs=1e-4)
    assert found.high == pytest.approx(19.5 + 5.5 * 10.5 / 5.5 * spread, abs=1e-3)
    assert (round(found.low), round(found.high)) == (22, 65)


def test_a_list_that_holds_the_other_leaves_none_unseen() -> None:
    found = chapman(8, 12, 8)
    assert (found.estimate, found.variance, found.seen, found.low) == (12, 0, 12, 12)
    assert found.high > 12  # one cannot be sure


counts = st.tuples(*[st.integers(0, 2000)] * 3).map(lambda n: (n[0] + n[2], n[1] + n[2], n[2]))


@given(counts)
def test_laws_of_the_estimate(lists: tuple[int, int, int]) -> None:
    first, second, both = lists
    found = chapman(first, second, both)
    swapped = chapman(second, first, both)
    assert (found.estimate, found.high) == (pytest.approx(swapped.estimate), pytest.approx(swapped.high))
    assert found.seen <= found.estimate + 1e-6 and found.seen <= found.low <= found.high
    if both < min(first, second):
        assert chapman(first, second, both + 1).estimate < found.estimate  # the more in both, the fewer unseen


def test_more_in_both_than_in_one_is_refused() -> None:
    with pytest.raises(ValueError, match="6 on both lists of 5 and 9"):
        chapman(5, 9, 6)


@pytest.mark.parametrize(("size", "first", "second"), [(60, 0.8, 0.6), (300, 0.9, 0.8), (300, 0.5, 0.5)])
def test_the_interval_covers_the_truth(size: int, first: float, second: float) -> None:
    """2,000 populations: coverage of a 95 % interval within 3 standard errors of it, or above (it is conservative)."""
    chance = np.random.default_rng(20240101)
    on_first = chance.random((2000, size)) < first
    on_second = chance.random((2000, size)) < second
    covered, estimates = 0, []
    for a, b in zip(on_first, on_second, strict=True):
        found = chapman(int(a.sum()), int(b.sum()), int((a & b).sum()))
        covered += found.low <= size <= found.high
        estimates.append(found.estimate)
    assert covered / 2000 >= 0.95 - 3 * math.sqrt(0.95 * 0.05 / 2000)  # 0.935
    assert abs(np.mean(estimates) - size) < 3 * np.std(estimates) / math.sqrt(2000)  # Chapman's has almost no bias


def test_the_share_has_wilsons_interval() -> None:
    """Worked from the formula for 5 of 10: centre 0.5, half width z sqrt(pq/n + z^2/4n^2) / (1 + z^2/n)."""
    found = share_present(5, 10)
    z = 1.959964
    half = z * math.sqrt(0.25 / 10 + z**2 / 400) / (1 + z**2 / 10)
    assert (found.share, found.low, found.high) == (0.5, pytest.approx(0.5 - half), pytest.approx(0.5 + half))
    assert share_present(0, 0).share is None
    with pytest.raises(ValueError, match="3 of 2"):
        share_present(3, 2)
