"""Peak flow by two meters, and six things measured by four readers.

Bland JM, Altman DG, Lancet 1986;1:307-310: the printed mean -2.1 and deviation 38.8 litres a minute; the measurements
themselves from memory, confirmed by that mean, that deviation and the paper's coefficient of repeatability. Shrout PE,
Fleiss JL, Psychol Bull 1979;86:420-428, Table 4 (printed 0.17, 0.29, 0.71). Unrounded values by R 4.2.2 arithmetic and
psych 2.2.9, ICC.
"""

from __future__ import annotations

import pytest

from analysis.estimators.measurement_agreement import Form, intraclass_correlation, limits_of_agreement

LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
LARGE_AGAIN = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
FOUR_READERS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]


def test_two_meters():
    found = limits_of_agreement(LARGE, MINI)
    assert (found.bias, found.standard_deviation) == pytest.approx((-2.11764705882353, 38.7651298736074), rel=1e-8)
    assert (round(found.bias, 1), round(found.standard_deviation, 1)) == (-2.1, 38.8)  # as printed in 1986
    assert (found.lower, found.upper) == pytest.approx((-78.097301611094, 73.8620074934469), abs=2e-3)  # 1.96 for z
    assert (found.bias_low, found.bias_high) == pytest.approx((-22.0488376966452, 17.8135435789981), rel=1e-8)
    assert (found.lower_low, found.lower_high) == pytest.approx((-112.619136451142, -43.5754667710458), abs=2e-3)
    assert (found.upper_low, found.upper_high) == pytest.approx((39.3401726533987, 108.383842333495), abs=2e-3)


def test_one_meter_twice():
    found = limits_of_agreement(LARGE, LARGE_AGAIN)
    assert found.within_deviation == pytest.approx(15.3066690578669, rel=1e-8)
    assert found.repeatability == pytest.approx(42.4279219937282, rel=3e-5)  # there with 1.96 for z


def test_too_few_pairs_give_nothing():
    found = limits_of_agreement([1.0, 2.0], [1.0, 3.0])
    assert (found.n, found.bias, found.reason) == (2, None, "fewer than 3 pairs")
    with pytest.raises(ValueError, match="lists of one length"):
        limits_of_agreement([1.0, 2.0], [1.0])


@pytest.mark.parametrize(
    ("form", "estimate", "low", "high", "printed"),
    [
        ("1,1", 0.165741768405476, -0.132932324874751, 0.722560062328121, "0.17"),
        ("2,1", 0.289763779527559, 0.018786513374712, 0.761084369648953, "0.29"),
        ("3,1", 0.714840714840715, 0.342464765033925, 0.94585825995536, "0.71"),
    ],
)
def test_six_things_by_four_readers(form: Form, estimate: float, low: float, high: float, printed: str):
    found = intraclass_correlation(FOUR_READERS, form=form)
    assert (found.estimate, found.low, found.high) == pytest.approx((estimate, low, high), rel=1e-6)
    assert f"{found.estimate:.2f}" == printed
    assert (found.n, found.readers) == (6, 4)


def test_readers_in_any_order_where_they_are_not_told_apart():
    shuffled = [row[::-1] if at % 2 else row for at, row in enumerate(FOUR_READERS)]
    assert intraclass_correlation(shuffled, form="1,1").estimate == pytest.approx(0.165741768405476)


def test_without_spread_there_is_no_correlation():
    same = intraclass_correlation([[3, 3], [3, 3], [3, 3]])
    assert (same.estimate, "measured the same" in str(same.reason)) == (None, True)
    perfect = intraclass_correlation([[1, 1], [2, 2], [7, 7]])
    assert (perfect.estimate, perfect.low) == (1.0, None)
    assert intraclass_correlation([[1, 2]]).reason == "fewer than two things or readers"
    with pytest.raises(ValueError, match="no form"):
        intraclass_correlation([[1, 2], [3, 4]], form="9,9")  # type: ignore[arg-type]
