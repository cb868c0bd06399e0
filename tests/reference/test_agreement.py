"""Kappa against published tables, computed elsewhere.

Mammograms: Kundel HL, Polansky M, Radiology 2003;228:303-308; values by R's vcd 1.4.11, Kappa (standard errors of
Fleiss, Cohen and Everitt, Psychol Bull 1969;72:323-327).
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.agreement import METHODS, Weights, _leaving_one_out, fleiss_kappa, kappa

MAMMOGRAMS = [[34, 10, 2, 0], [6, 8, 8, 2], [2, 5, 4, 12], [0, 1, 2, 14]]


@pytest.mark.parametrize(
    ("weights", "estimate", "error", "low", "high"),
    [
        ("none", 0.371284865112026, 0.0603332281669017, 0.253033910833861, 0.48953581939019),
        ("linear", 0.596369254538432, 0.0492296401894937, 0.499880932795159, 0.692857576281705),
        ("quadratic", 0.764119601328904, 0.0399609083970101, 0.68579766008126, 0.842441542576548),
    ],
)
def test_four_grades_of_two_readers(weights: Weights, estimate: float, error: float, low: float, high: float) -> None:
    found = kappa(MAMMOGRAMS, weights=weights)
    assert (found.estimate, found.standard_error) == pytest.approx((estimate, error), rel=1e-7)
    assert (found.low, found.high) == pytest.approx((low, high), rel=1e-7)
    assert (found.n, found.observed) == (110, pytest.approx(60 / 110))


def test_two_grades_make_all_weights_alike() -> None:
    found = {weights: kappa([[40, 9], [6, 45]], weights=weights) for weights in METHODS}
    assert [one.estimate for one in found.values()] == pytest.approx([0.699519230769231] * 3, rel=1e-7)
    assert found["none"].standard_error == pytest.approx(0.0713936026999882, rel=1e-7)


def test_what_cannot_be_said_says_why() -> None:
    assert kappa([[0, 0], [0, 0]]).reason == "nobody was graded by both"
    alike = kappa([[12, 0], [0, 0]])
    assert (alike.estimate, alike.observed) == (None, 1.0)
    assert "one grade only" in str(alike.reason)
    with pytest.raises(ValueError, match="square"):
        kappa([[1, 2, 3], [1, 2, 3]])
    with pytest.raises(ValueError, match="whole counts"):
        kappa([[1.5, 0], [0, 1]])


TEN_BY_FIVE = [
    [0, 0, 0, 0, 14],
    [0, 2, 6, 4, 2],
    [0, 0, 3, 5, 6],
    [0, 3, 9, 2, 0],
    [2, 2, 8, 1, 1],
    [7, 7, 0, 0, 0],
    [3, 2, 6, 3, 0],
    [2, 5, 3, 2, 2],
    [6, 5, 2, 1, 0],
    [0, 2, 2, 3, 7],
]


def test_fourteen_graders_of_ten_things() -> None:
    """A worked example of Fleiss' kappa that encyclopaedias reproduce (printed 0.210); unrounded by R 4.2.2."""
    found = fleiss_kappa(TEN_BY_FIVE)
    assert found.estimate == pytest.approx(0.209930704421955, rel=1e-9)
    assert found.observed == pytest.approx(0.378021978021978, rel=1e-9)
    assert found.low is not None and found.high is not None
    assert found.low < found.estimate < found.high


def test_leaving_out_one_thing_is_the_same_as_never_having_had_it() -> None:
    without_first = fleiss_kappa(TEN_BY_FIVE[1:]).estimate
    assert _leaving_one_out(np.asarray(TEN_BY_FIVE, dtype=float))[0] == pytest.approx(without_first)


def test_fleiss_says_why_it_cannot() -> None:
    assert fleiss_kappa(np.zeros((0, 2))).reason == "nothing was graded"
    assert "one grade only" in str(fleiss_kappa([[2, 0], [2, 0]]).reason)
    assert fleiss_kappa([[2, 0], [1, 1]]).low is None
    with pytest.raises(ValueError, match="equally often"):
        fleiss_kappa([[2, 0], [1, 2]])
    with pytest.raises(ValueError, match="whole numbers"):
        fleiss_kappa([[0.5, 1.5]])


def test_full_agreement_has_no_interval() -> None:
    """The large-sample error is 0 there, which no sample of ten can vouch for."""
    found = kappa([[5, 0], [0, 5]])
    assert (found.estimate, found.low, found.high) == (1.0, None, None)
    assert "no spread" in str(found.reason)
