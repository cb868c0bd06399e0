"""Laws of correction, accuracy and agreement, on generated counts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from analysis.estimators.agreement import fleiss_kappa, kappa
from analysis.estimators.diagnostic import accuracy
from analysis.estimators.measurement_agreement import intraclass_correlation, limits_of_agreement
from analysis.estimators.misclassification import rogan_gladen
from analysis.estimators.paired import mcnemar

UNHURRIED = settings(deadline=None)  # the first call loads a library
COUNT = st.integers(0, 60)
SHARE = st.integers(0, 100).map(lambda whole: whole / 100)


@st.composite
def corrections(draw: st.DrawFn) -> dict[str, float | int]:
    n = draw(st.integers(1, 200))
    se, sp = draw(SHARE), draw(SHARE)
    assume(se + sp > 1.02)
    made: dict[str, float | int] = {"events": draw(st.integers(0, n)), "n": n, "sensitivity": se, "specificity": sp}
    if draw(st.booleans()):
        made |= {"n_sensitivity": draw(st.integers(1, 300)), "n_specificity": draw(st.integers(1, 300))}
    return made


@UNHURRIED
@given(corrections())
def test_estimate_and_limits_stay_between_nothing_and_all(case):
    found = rogan_gladen(**case)
    assert found.estimate is not None
    assert 0 <= found.estimate <= 1
    assert (found.low is None) == (found.high is None)
    if found.low is not None:
        assert 0 <= found.low <= found.high <= 1
    else:
        assert found.reason
    assert found.cut == (found.uncut != found.estimate)


@UNHURRIED
@given(corrections())
def test_more_positives_never_make_a_lower_estimate(case):
    assume(case["events"] < case["n"])
    one, more = rogan_gladen(**case), rogan_gladen(**{**case, "events": case["events"] + 1})
    assert one.uncut < more.uncut


@UNHURRIED
@given(corrections())
def test_negatives_seen_as_positives_give_the_mirror_image(case):
    found = rogan_gladen(**case)
    swapped = {
        "events": case["n"] - case["events"],
        "n": case["n"],
        "sensitivity": case["specificity"],
        "specificity": case["sensitivity"],
        "n_sensitivity": case.get("n_specificity"),
        "n_specificity": case.get("n_sensitivity"),
    }
    mirror = rogan_gladen(**swapped)
    assert math.isclose(found.estimate, 1 - mirror.estimate, abs_tol=1e-9)
    if found.low is not None and mirror.low is not None:
        assert math.isclose(found.low, 1 - mirror.high, abs_tol=1e-9)


@UNHURRIED
@given(st.integers(1, 300), st.data())
def test_a_test_that_never_errs_corrects_nothing(n, data):
    events = data.draw(st.integers(0, n))
    found = rogan_gladen(events=events, n=n, sensitivity=1, specificity=1)
    assert (found.estimate, found.cut) == (events / n, False)


@UNHURRIED
@given(SHARE, SHARE, COUNT)
def test_a_useless_test_is_refused_whatever_was_seen(se, sp, n):
    assume(se + sp <= 1)
    found = rogan_gladen(events=n // 2, n=n, sensitivity=se, specificity=sp)
    assert (found.estimate, found.low, found.high) == (None, None, None)
    assert found.reason


@UNHURRIED
@given(COUNT, COUNT, COUNT, COUNT)
def test_accuracy_of_the_opposite_judgement(tp, fp, fn, tn):
    found = accuracy(tp=tp, fp=fp, fn=fn, tn=tn)
    opposite = accuracy(tp=fn, fp=tn, fn=tp, tn=fp)
    if tp + fn:
        assert found.sensitivity[0] == pytest.approx(1 - opposite.sensitivity[0])
    if tn + fp:
        assert found.specificity[0] == pytest.approx(1 - opposite.specificity[0])
    assert found.sensitivity[2] + found.specificity[2] == found.n
    for value, limits, n in (found.sensitivity, found.specificity, found.ppv, found.npv):
        assert (value is None) == (n == 0) == (limits.low is None)
        if value is not None:
            assert limits.low <= value <= limits.high


@UNHURRIED
@given(COUNT, COUNT, COUNT, COUNT)
def test_paired_answers_may_change_places(a, b, c, d):
    one = mcnemar(both=a, first_only=b, second_only=c, neither=d)
    other = mcnemar(both=a, first_only=c, second_only=b, neither=d)
    if one.p is None:
        assert one.reason == other.reason
        return
    assert one.difference == pytest.approx(-other.difference)
    assert (one.exact_p, one.mid_p, one.p) == pytest.approx((other.exact_p, other.mid_p, other.p))
    assert 0 <= one.mid_p <= one.exact_p <= 1


PAIRS = st.lists(st.tuples(st.integers(0, 20), st.integers(0, 20)), min_size=3, max_size=30)


@UNHURRIED
@given(PAIRS)
def test_two_measurements_may_change_places(pairs):
    a, b = np.array(pairs, dtype=float).T
    one, other = limits_of_agreement(a, b), limits_of_agreement(b, a)
    assert one.bias == pytest.approx(-other.bias)
    assert one.lower == pytest.approx(-other.upper)
    assert one.repeatability == pytest.approx(other.repeatability)
    icc, back = (intraclass_correlation(np.stack(both, axis=1), form="1,1") for both in ((a, b), (b, a)))
    if icc.estimate is None:
        assert icc.reason == back.reason
    else:
        assert icc.estimate == pytest.approx(back.estimate, abs=1e-9)
        assert -1 - 1e-9 <= icc.estimate <= 1
        if icc.low is not None:
            assert icc.low - 1e-9 <= icc.estimate <= icc.high + 1e-9


@UNHURRIED
@given(st.lists(st.integers(0, 1), min_size=2, max_size=25), st.data())
def test_two_graders_of_all_agree_by_either_kappa_or_neither(first, data):
    """Where both use both grades equally often the two kappas differ by nothing but their chance agreement."""
    second = data.draw(st.permutations(first))
    assume(len(set(first)) == 2)
    table = np.zeros((2, 2))
    np.add.at(table, (first, second), 1)
    counts = np.stack([2 - np.add(first, second), np.add(first, second)], axis=1)
    assert fleiss_kappa(counts).estimate == pytest.approx(kappa(table).estimate)
