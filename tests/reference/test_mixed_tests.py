"""Several tests that err, corrected together: against the single test's formula and its delta standard error."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.misclassification import rogan_gladen
from analysis.estimators.mixed_tests import ErringTest, mixed_correction


def rows(events: int, n: int) -> np.ndarray:
    return np.arange(n) < events


def test_one_test_alone_has_the_limits_of_the_delta_method():
    """Rogan and Gladen's first case of the single test, R 4.2.2: 0.15 with limits 0.0571 to 0.2429 by the delta method.

    The resampled limits are those within the error of 4,000 resamples.
    """
    found = mixed_correction(
        positive=rows(48, 200),
        test=np.zeros(200, dtype=np.int64),
        cluster=np.arange(200),
        tests=[ErringTest(0.92, 0.88, 100, 150)],
        seed=3,
        replicates=4000,
    )
    assert (found.low, found.high) == pytest.approx((0.0571211759106457, 0.242878824089355), abs=0.012)


def test_two_tests_that_never_err_are_the_plain_rate():
    positive, test = rows(30, 100), np.arange(100) % 2
    two = [ErringTest(1, 1), ErringTest(1, 1)]
    found = mixed_correction(positive=positive, test=test, cluster=np.arange(100), tests=two, seed=1)
    one = mixed_correction(positive=positive, test=test * 0, cluster=np.arange(100), tests=two[:1], seed=1)
    assert (found.low, found.high) == pytest.approx((one.low, one.high))
    assert found.low < 0.3 < found.high


def test_the_interval_is_wider_where_a_test_was_measured_on_few():
    common = {"positive": rows(40, 120), "test": np.zeros(120, dtype=np.int64), "cluster": np.arange(120), "seed": 5}
    known = mixed_correction(tests=[ErringTest(0.8, 0.9)], **common)
    measured = mixed_correction(tests=[ErringTest(0.8, 0.9, 25, 25)], **common)
    assert measured.high - measured.low > known.high - known.low
    assert known.low < rogan_gladen(events=40, n=120, sensitivity=0.8, specificity=0.9).estimate < known.high


def test_what_cannot_be_resampled_says_why():
    alone = mixed_correction(
        positive=rows(1, 2), test=np.zeros(2, int), cluster=np.zeros(2, int), tests=[ErringTest(1, 1)], seed=1
    )
    assert (alone.low, alone.reason) == (None, "fewer than two patients")
    alike = mixed_correction(
        positive=rows(0, 9), test=np.zeros(9, int), cluster=np.arange(9), tests=[ErringTest(1, 1)], seed=1
    )
    assert (alike.low, alike.reason) == (None, "every resample gives one value")
