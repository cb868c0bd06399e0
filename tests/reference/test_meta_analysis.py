"""Pooling against the BCG vaccine trials and a made-up set.

Trials: Colditz GA et al, JAMA 1994;271:698-702, as in Viechtbauer W, J Stat Softw 2010;36(3) (printed: REML -0.7145,
standard error 0.1798, tau squared 0.3132, I squared 92.22, Q 152.2330); further digits by R's metafor 3.8.1.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.meta_analysis import Between, between_limits, pooled, small_study_effect

CASES = [4, 6, 3, 62, 33, 180, 8, 505, 29, 17, 186, 5, 27]
NONE = [119, 300, 228, 13536, 5036, 1361, 2537, 87886, 7470, 1699, 50448, 2493, 16886]
CASES_0 = [11, 29, 11, 248, 47, 372, 10, 499, 45, 65, 141, 3, 29]
NONE_0 = [128, 274, 209, 12619, 5761, 1079, 619, 87892, 7232, 1600, 27197, 2338, 17825]
a, b, c, d = (np.array(each, dtype=float) for each in (CASES, NONE, CASES_0, NONE_0))
EFFECT = np.log(a / (a + b) / (c / (c + d)))
VARIANCE = 1 / a - 1 / (a + b) + 1 / c - 1 / (c + d)


@pytest.mark.parametrize(
    ("method", "mean", "error", "between", "share"),
    [
        ("none", -0.430285163654091, 0.0404987517108638, 0.0, 92.1173468545621),
        ("DL", -0.714117222073227, 0.178742089535403, 0.308760262862376, 92.1173468545621),
        ("REML", -0.71453234215814, 0.179781516105207, 0.313243258136486, 92.2213845212691),
        ("PM", -0.714968153493444, 0.180892191537624, 0.318068452205024, 92.3303379541533),
        ("ML", -0.711199135474184, 0.171896808776897, 0.280028137268671, 91.3782837894469),
    ],
)
def test_the_trials_pooled(method: Between, mean: float, error: float, between: float, share: float) -> None:
    made = pooled(EFFECT, VARIANCE, between=method)
    assert (made.estimate, made.standard_error) == pytest.approx((mean, error), rel=1e-5)
    assert (made.between, made.share) == pytest.approx((between, share), rel=1e-5)
    assert made.q == pytest.approx(152.233008082373, rel=1e-8)


def test_limits_with_few_studies_and_of_the_next_one() -> None:
    made = pooled(EFFECT, VARIANCE)
    assert (made.low_t, made.high_t) == pytest.approx((-1.10844371368555, -0.320620970630728), rel=1e-5)
    assert (made.low_next, made.high_next) == pytest.approx((-2.00837590692259, 0.579311222606309), rel=1e-5)
    assert between_limits(EFFECT, VARIANCE) == pytest.approx((0.119718361141261, 1.11147908406093), rel=1e-5)
    assert small_study_effect(EFFECT, VARIANCE) == pytest.approx(
        (-2.11204212089329, 1.50722132835701, 0.188706995081979), rel=1e-6
    )


def test_six_studies_that_hardly_differ() -> None:
    y, v = [0.18, 0.42, -0.05, 0.31, 0.6, 0.12], [0.021, 0.054, 0.033, 0.012, 0.11, 0.027]
    assert pooled(y, v, between="DL").between == pytest.approx(0.00219977283363636, rel=1e-6)
    assert pooled(y, v, between="PM").between == pytest.approx(0.00257335456266159, rel=1e-6)
    alike = pooled(y, v, between="REML")
    assert (alike.estimate, alike.between) == pytest.approx((0.223842222931687, 0.0), abs=1e-6)
    assert between_limits(y, v) == pytest.approx((0, 0.255598764989165), rel=1e-5)
    with pytest.raises(ValueError, match="Two studies or more"):
        pooled([0.1], [0.2])
