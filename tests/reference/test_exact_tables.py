"""Infection by how tightly the scope fills the sheath: the published table, and textbook tables.

The groups of the scope-to-sheath ratio (under 0.75, 0.75 to 0.85, over 0.85) had 1 of 39, 5 of 108 and 14 of 96
infections (J Endourol 2026, doi 10.1177/08927790261451791; the middle row by subtraction). Published: over 0.85 against
the rest p = 0.007, 0.75 and over against under p = 0.214. The paper's adjusted odds ratio (Firth, 3.73) rests on
covariates that are not in the table and cannot be had from it: only the crude one is checked.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.exact_tables import several_groups, two_by_two
from analysis.estimators.regression.firth import firth, profile_effects


def test_tight_against_the_rest() -> None:
    found = two_by_two(events=(14, 6), totals=(96, 147))
    assert found.fisher.p == pytest.approx(0.00708, abs=5e-6)
    assert found.pearson.p == pytest.approx(0.00359, abs=5e-6)
    assert found.yates.p == pytest.approx(0.00751, abs=5e-6)
    assert found.crude.estimate == pytest.approx(4.012, abs=5e-4)
    assert round(found.fisher.p or 1, 3) == 0.007


def test_middle_and_tight_against_loose() -> None:
    found = two_by_two(events=(19, 1), totals=(204, 39))
    assert found.fisher.p == pytest.approx(0.21363, abs=5e-6)
    assert found.pearson.p == pytest.approx(0.15994, abs=5e-6)
    assert found.yates.p == pytest.approx(0.27689, abs=5e-6)


def test_the_trend_over_three_groups() -> None:
    found = several_groups(events=(1, 5, 14), totals=(39, 108, 96))
    assert found.trend.statistic == pytest.approx(2.7413, abs=5e-5)
    assert found.trend.p == pytest.approx(0.00612, abs=5e-6)
    turned = several_groups(events=(14, 5, 1), totals=(96, 108, 39))
    assert turned.trend.statistic == pytest.approx(-(found.trend.statistic or 0))
    assert turned.trend_exact.p == pytest.approx(found.trend_exact.p)


def test_firth_on_the_published_split_is_a_half_added_to_every_cell() -> None:
    """Of a table of two rows the penalised estimate is the odds ratio with 1/2 in every cell (Firth 1993)."""
    y = np.repeat([1, 0, 1, 0], [14, 82, 6, 141])
    x = np.column_stack([np.ones(243), np.repeat([1.0, 0.0], [96, 147])])
    fit = firth(y, x, ("intercept", "tight"))
    assert np.exp(fit.coefficients[1]) == pytest.approx(14.5 * 141.5 / (82.5 * 6.5), rel=1e-6)
    limits = profile_effects(fit, y, x, [1], ["tight"])[0]
    assert limits.low > 1 and limits.p < 0.01


def test_the_tea_tasting() -> None:
    """Fisher RA, The Design of Experiments, 1935: 3 of 4 against 1 of 4, one-sided 17/70, two-sided 34/70. The
    conditional estimate 6.408309 and its one-sided lower 95 % limit 0.3135693 as R's fisher.test prints them [from
    memory]; of the two-sided limits it prints 621.9 for 626.2, its root search being loose."""
    found = two_by_two(events=(3, 1), totals=(4, 4))
    assert found.fisher.p == pytest.approx(34 / 70)
    assert found.mid_p.p == pytest.approx(34 / 70 - (16 + 16) / 140)
    assert found.conditional.estimate == pytest.approx(6.408309, rel=1e-4)
    one_sided = two_by_two(events=(3, 1), totals=(4, 4), level=0.9).conditional
    assert one_sided.low == pytest.approx(0.3135693, rel=1e-3)
    assert found.conditional.high == pytest.approx(626.24, abs=0.01)


def test_job_satisfaction_by_hand() -> None:
    """A 3 x 2 table small enough to count: 0/2, 1/2, 2/2 with 3 events; chances of all tables over C(6, 3) = 20."""
    found = several_groups(events=(0, 1, 2), totals=(2, 2, 2))
    # (1,1,1) has 8/20; each of the six orders of (0,1,2) has 2/20.
    assert found.exact.p == pytest.approx(12 / 20)
    # weighted sum 5, mean 3: as far off are 5 and 1, one table each.
    assert found.trend_exact.p == pytest.approx(4 / 20)
