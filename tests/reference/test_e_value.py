"""E-values and bias factors against published and separately worked numbers, and their laws."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.estimators.confounding.e_value import bias_factor, e_value

CLOSE = 1e-9
RATIOS = st.floats(0.05, 20)


@pytest.mark.parametrize(
    ("estimate", "low", "high", "point", "limit", "printed"),
    [
        (3.9, 1.8, 8.7, 7.26303434416005, 3.0, ("7.26", "3.0")),
        (0.80, 0.71, 0.91, 1.80901699437495, 1.42857142857143, ("1.81", "1.43")),
    ],
)
def test_risk_ratios_of_the_article(
    estimate: float, low: float, high: float, point: float, limit: float, printed: tuple[str, str]
) -> None:
    """VanderWeele TJ, Ding P, Ann Intern Med 2017;167:268-274: as printed (from memory), and by arithmetic in R."""
    found = e_value(estimate, low, high, scale="risk ratio")
    assert (found.point, found.limit) == pytest.approx((point, limit), rel=CLOSE)
    assert (f"{found.point:.2f}", f"{found.limit:.{len(printed[1]) - 2}f}") == printed


def test_an_odds_ratio_of_a_common_outcome_is_read_by_its_root() -> None:
    """Arithmetic in R by the square-root rule of the same article."""
    found = e_value(2.6, 1.3, 5.2, scale="odds ratio", outcome_share=0.3)
    assert (found.point, found.limit) == pytest.approx((2.60620627309014, 1.53995608358684), rel=CLOSE)
    rare = e_value(2.6, 1.3, 5.2, scale="odds ratio", outcome_share=0.1)
    assert rare.point == e_value(2.6, 1.3, 5.2, scale="risk ratio").point
    assert "rare" in rare.reading and "square root" in found.reading


def test_the_bias_factor_and_what_it_leaves_of_a_ratio() -> None:
    """Arithmetic in R: 1.8 and 2.5 give 1.3636, which leaves 1.54 of 2.1."""
    assert bias_factor(1.8, 2.5) == pytest.approx(1.36363636363636, rel=CLOSE)
    assert 2.1 / bias_factor(1.8, 2.5) == pytest.approx(1.54, rel=CLOSE)


@given(RATIOS)
def test_a_confounder_as_strong_as_the_e_value_just_explains_the_ratio(ratio: float) -> None:
    point = e_value(ratio, ratio / 1.5, ratio * 1.5, scale="risk ratio").point
    assert bias_factor(point, point) == pytest.approx(max(ratio, 1 / ratio), rel=1e-7)


@given(RATIOS, st.floats(1, 4), st.sampled_from(["risk ratio", "odds ratio", "hazard ratio"]), st.floats(0, 1))
def test_turning_the_groups_round_changes_nothing(ratio: float, spread: float, scale: str, share: float) -> None:
    one = e_value(ratio, ratio / spread, ratio * spread, scale=scale, outcome_share=share)  # type: ignore[arg-type]
    other = e_value(1 / ratio, 1 / (ratio * spread), spread / ratio, scale=scale, outcome_share=share)  # type: ignore[arg-type]
    assert (one.point, one.limit) == pytest.approx((other.point, other.limit), rel=1e-6)
    assert 1 <= one.limit <= one.point * (1 + 1e-12)


def test_no_effect_and_an_interval_that_holds_one_need_no_confounder() -> None:
    assert e_value(1.4, 0.9, 2.2, scale="risk ratio").limit == 1
    none = e_value(1.0, 1.0, 1.0, scale="hazard ratio", outcome_share=0.4)
    assert (none.point, none.limit) == (1, 1)
    assert e_value(0.5, 0.2, 1.1, scale="risk ratio").limit == 1


@pytest.mark.parametrize(
    ("numbers", "scale", "share", "said"),
    [
        ((2.0, 2.1, 3.0), "risk ratio", None, "within its limits"),
        ((0.0, 0.0, 1.0), "risk ratio", None, "above 0"),
        ((2.0, 1.0, math.inf), "risk ratio", None, "within its limits"),
        ((2.0, 1.0, 3.0), "odds ratio", None, "share with the outcome"),
        ((2.0, 1.0, 3.0), "hazard ratio", 1.2, "share with the outcome"),
    ],
)
def test_what_is_no_ratio_is_refused(
    numbers: tuple[float, float, float], scale: str, share: float | None, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        e_value(*numbers, scale=scale, outcome_share=share)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="1 or more"):
        bias_factor(0.5, 2)
