"""Accuracy of one judgement against a reference; R 4.2.2 arithmetic, limits of the ratio as Simel and others 1991."""

from __future__ import annotations

import pytest

from analysis.estimators.diagnostic import accuracy


def test_two_by_two():
    found = accuracy(tp=84, fp=17, fn=9, tn=140)
    value, limits, n = found.sensitivity
    assert (value, limits.low, limits.high, n) == pytest.approx(
        (0.903225806451613, 0.826213360669886, 0.948248330772263, 93), rel=1e-8
    )
    value, limits, n = found.specificity
    assert (value, limits.low, limits.high, n) == pytest.approx(
        (0.89171974522293, 0.83343950903966, 0.931288695378831, 157), rel=1e-8
    )
    assert (found.ppv[0], found.npv[0]) == pytest.approx((0.831683168316832, 0.939597315436242), rel=1e-8)
    assert found.positive_ratio.estimate == pytest.approx(8.3415559772296, rel=1e-8)
    assert (found.positive_ratio.low, found.positive_ratio.high) == pytest.approx(
        (5.29868753726429, 13.1318473927564), rel=1e-8
    )
    assert found.negative_ratio.estimate == pytest.approx(0.10852534562212, rel=1e-8)
    assert (found.youden, found.odds_ratio) == pytest.approx((0.794945551674543, 76.8627450980392), rel=1e-8)


def test_the_exact_interval():
    _, limits, _ = accuracy(tp=84, fp=17, fn=9, tn=140, interval="exact").sensitivity
    assert (limits.low, limits.high) == pytest.approx((0.824227428918531, 0.954786383260485), rel=1e-8)


def test_empty_margins_say_why():
    nobody = accuracy(tp=0, fp=0, fn=0, tn=12)
    assert (nobody.sensitivity[0], nobody.sensitivity[1].low) == (None, None)
    assert (nobody.specificity[0], nobody.youden, nobody.odds_ratio) == (1.0, None, None)
    assert "nobody is truly positive" in str(nobody.positive_ratio.reason)
    assert "no limit" in str(accuracy(tp=3, fp=0, fn=1, tn=9).positive_ratio.reason)
    none_found = accuracy(tp=0, fp=2, fn=4, tn=9)
    assert (none_found.positive_ratio.estimate, none_found.positive_ratio.low) == (0.0, None)
    assert "judged alike" in str(accuracy(tp=4, fp=9, fn=0, tn=0).positive_ratio.reason)
    with pytest.raises(ValueError, match="fp is -1"):
        accuracy(tp=1, fp=-1, fn=1, tn=1)
