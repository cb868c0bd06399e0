"""Rogan and Gladen's correction, and what a scan that errs does to a comparison.

Rogan WJ, Gladen B, Am J Epidemiol 1978;107:71-76; Lang Z, Reiczigel J, Prev Vet Med 2014;113:13-22. Values by R 4.2.2
arithmetic; those of the first two cases with a known test cross-checked with epiR 2.0.57, epi.prev.
"""

from __future__ import annotations

import math

import pytest

from analysis.estimators.misclassification import corrected_contrast, rogan_gladen

FIRST = {"events": 48, "n": 200, "sensitivity": 0.92, "specificity": 0.88}
SECOND = {"events": 273, "n": 350, "sensitivity": 0.95, "specificity": 0.8}


@pytest.mark.parametrize(
    ("case", "estimate", "error", "low", "high"),
    [
        (FIRST, 0.15, 0.0377491721763537, 0.0825826999051713, 0.229666762240052),
        (SECOND, 0.773333333333333, 0.0295231950780915, 0.711588273369997, 0.826972250895085),
    ],
)
def test_a_test_taken_as_known(case, estimate, error, low, high):
    found = rogan_gladen(**case)
    assert (found.estimate, found.standard_error) == pytest.approx((estimate, error), rel=1e-8)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-8)
    assert not found.cut


@pytest.mark.parametrize(
    ("case", "sizes", "error", "low", "high"),
    [
        (FIRST, (100, 150), 0.0473880259137263, 0.0540190741831247, 0.243248036325062),
        (SECOND, (120, 80), 0.0384075732292982, 0.695815793651668, 0.851927977015268),
    ],
)
def test_a_test_measured_on_a_sample(case, sizes, error, low, high):
    found = rogan_gladen(**case, n_sensitivity=sizes[0], n_specificity=sizes[1])
    assert found.standard_error == pytest.approx(error, rel=1e-8)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-8)
    assert "Lang and Reiczigel" in found.method


def test_an_estimate_below_nothing_is_cut_and_says_so():
    found = rogan_gladen(events=6, n=150, sensitivity=0.85, specificity=0.93, n_sensitivity=60, n_specificity=90)
    assert found.uncut == pytest.approx(-0.0384615384615384, rel=1e-8)
    assert (found.estimate, found.low, found.cut) == (0.0, 0.0, True)
    known = rogan_gladen(events=6, n=150, sensitivity=0.85, specificity=0.93)
    assert known.standard_error == pytest.approx(0.0205128205128205, rel=1e-8)


@pytest.mark.parametrize("test", [(0.5, 0.5), (0.4, 0.5), (0.0, 1.0), (0.0, 0.0)])
def test_a_test_that_tells_nothing_has_no_correction(test):
    found = rogan_gladen(events=10, n=40, sensitivity=test[0], specificity=test[1])
    assert (found.estimate, found.low, found.apparent) == (None, None, 0.25)
    assert "add up to 1 or less" in str(found.reason)


def test_nobody_observed_is_no_estimate():
    assert rogan_gladen(events=0, n=0, sensitivity=0.9, specificity=0.9).reason == "nobody was observed"


def test_impossible_input_is_named():
    with pytest.raises(ValueError, match="sensitivity is 45"):
        rogan_gladen(events=1, n=2, sensitivity=45, specificity=0.9)
    with pytest.raises(ValueError, match="both sensitivity and specificity, or neither"):
        rogan_gladen(events=1, n=2, sensitivity=0.9, specificity=0.9, n_sensitivity=20)
    with pytest.raises(ValueError, match="at least 1"):
        rogan_gladen(events=1, n=2, sensitivity=0.9, specificity=0.9, n_sensitivity=20, n_specificity=0)
    with pytest.raises(ValueError, match="more events than observations"):
        rogan_gladen(events=3, n=2, sensitivity=0.9, specificity=0.9)


def test_two_groups_seen_by_one_test_that_errs():
    """Percutaneous 289 of 350 and open 273 of 350 (Charig CR and others, BMJ 1986;292:879-882); R 4.2.2 arithmetic."""
    found = corrected_contrast(
        events_index=289, n_index=350, events_comparator=273, n_comparator=350, sensitivity=0.93, specificity=0.85
    )
    assert found is not None
    assert (found.index, found.comparator) == pytest.approx((0.866300366300366, 0.807692307692307), rel=1e-8)
    assert (found.difference[0], found.difference_error) == pytest.approx(
        (0.0586080586080587, 0.0384926738495091), rel=1e-8
    )
    assert found.ratio == pytest.approx((1.07256235827664, 0.979680279358005, 1.17425045357228), rel=1e-8)
    assert found.odds_ratio == pytest.approx((1.54272667971298, 0.874804557379927, 2.72061409399426), rel=1e-8)
    # Errors that do not depend on the group draw a difference towards nothing.
    assert found.difference[0] > (289 - 273) / 350


def test_two_groups_without_a_ratio():
    case = {"n_index": 100, "events_comparator": 30, "n_comparator": 100, "sensitivity": 0.9, "specificity": 0.9}
    below = corrected_contrast(events_index=2, **case)
    assert below is not None
    assert (below.ratio, below.odds_ratio) == (None, None)
    assert math.isclose(below.difference[0], (0.02 - 0.3) / 0.8)
    useless = {**case, "sensitivity": 0.1, "specificity": 0.9}
    assert corrected_contrast(events_index=2, **useless) is None
