"""Two groups compared by cost and effect, against published means and independent routes."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from analysis.estimators.cost_effectiveness import CostEffectiveness, cost_effectiveness


def of_groups(*groups: tuple[float, int, int], **more: Any) -> CostEffectiveness:
    """Index and comparator, each as cost of a case, treated and free."""
    cost = np.concatenate([np.full(n, each) for each, n, _ in groups])
    effect = np.concatenate([np.arange(n) < free for _, n, free in groups])
    index = np.concatenate([np.full(n, place == 0) for place, (_, n, _) in enumerate(groups)])
    return cost_effectiveness(cost=cost, effect=effect, index=index, cluster=np.arange(len(cost)), **more)


def test_percutaneous_against_open_in_1986() -> None:
    # Charig et al., Br Med J 1986;292:879-882: 1861 pounds, 289 of 350 free, against 3500 pounds, 273 of 350.
    # 4.6 points with a standard error of 3.0 are clear of 0 at 80 %, and not at 95 %.
    made = of_groups((1861, 350, 289), (3500, 350, 273), willing=[0, 10_000], replicates=500, level=0.8)
    assert made.cost.estimate == -1639
    assert made.effect.estimate == pytest.approx(289 / 350 - 273 / 350)
    assert (made.standing, made.ratio) == ("dominates", None)
    assert made.ratio_reason is not None and "dominates" in made.ratio_reason
    assert [one.estimate for one in made.net_benefits] == pytest.approx([1639, 1639 + 10_000 * 16 / 350])
    assert made.net_benefits[0].above == 1.0


def test_open_against_percutaneous_is_the_mirror() -> None:
    made = of_groups((3500, 350, 273), (1861, 350, 289), replicates=500, level=0.8)
    assert (made.standing, made.cost.estimate) == ("is dominated", 1639)


@pytest.mark.parametrize(
    ("groups", "standing"),
    [
        (((1861, 350, 289), (3500, 350, 273)), "costs less, effects not told apart"),
        (((3500, 350, 273), (1861, 350, 289)), "costs more, effects not told apart"),
        (((1000, 350, 289), (1000, 350, 273)), "costs alike, effects not told apart"),
        (((1000, 350, 273), (1000, 350, 289)), "costs alike, effects not told apart"),
    ],
)
def test_nobody_dominates_where_the_difference_in_effect_is_not_clear_of_0(groups: Any, standing: str) -> None:
    made = of_groups(*groups, replicates=500)
    assert made.effect.limits.low is not None and made.effect.limits.high is not None
    assert made.effect.limits.low < 0 < made.effect.limits.high and not made.effect.clear
    assert (made.standing, made.ratio, made.ratio_limits.low) == (standing, None, None)
    assert made.ratio_reason is not None and "not clear of 0" in made.ratio_reason
    assert "dominates" not in made.ratio_reason


def test_a_dearer_group_of_the_same_effect_is_not_dominated() -> None:
    made = of_groups((1100, 40, 30), (1000, 40, 30), replicates=500)
    assert (made.standing, made.ratio) == ("costs more, effects not told apart", None)
    assert made.ratio_reason == "the effects do not differ"


def test_without_an_interval_nobody_dominates() -> None:
    made = cost_effectiveness(cost=[1.0, 2.0], effect=[1, 0], index=[1, 0], cluster=[1, 1])
    assert made.effect.limits.low is None
    assert (made.standing, made.ratio) == ("costs less, effects not told apart", None)


def test_a_price_for_what_does_more() -> None:
    made = of_groups((1861, 350, 289), (1789, 350, 245), willing=[600], replicates=4000)
    assert made.standing == "costs more, does more"
    assert made.ratio == pytest.approx(72 / (44 / 350))
    assert made.ratio_limits.low is not None and made.ratio_limits.high is not None
    assert made.ratio_limits.low < made.ratio < made.ratio_limits.high
    # Costs do not vary, so the limits are those of the difference in rate turned round.
    assert made.ratio_limits.low == pytest.approx(72 / made.effect.limits.high)  # type: ignore[operator]
    assert made.net_benefits[0].estimate == pytest.approx(600 * 44 / 350 - 72)


def test_an_effect_that_is_not_clear_of_0_leaves_the_ratio_without_limits() -> None:
    made = of_groups((1900, 60, 46), (1800, 60, 44), replicates=1000)
    assert made.ratio == pytest.approx(100 / (2 / 60))
    assert (made.ratio_limits.low, made.ratio_limits.high) == (None, None)
    assert made.ratio_limits.reason == "the difference in effect is not clear of 0"
    assert made.quadrants is not None and made.quadrants["more_less"] > 0.1


def test_the_limits_of_the_cost_agree_with_welch() -> None:
    generator = np.random.default_rng(4)
    cost = generator.gamma(4, 500, 600)
    index = np.arange(600) < 250
    made = cost_effectiveness(cost=cost, effect=np.ones(600), index=index, cluster=np.arange(600), replicates=10_000)
    welch = stats.ttest_ind(cost[index], cost[~index], equal_var=False).confidence_interval()
    width = welch.high - welch.low
    assert made.cost.limits.low == pytest.approx(welch.low, abs=0.04 * width)
    assert made.cost.limits.high == pytest.approx(welch.high, abs=0.04 * width)
    assert made.effect.estimate == 0
    assert made.ratio_reason == "the effects do not differ"


def test_nobody_in_a_group() -> None:
    made = cost_effectiveness(cost=[1.0, 2.0], effect=[1, 0], index=[1, 1], cluster=[1, 2], willing=[5])
    assert (made.cost.estimate, made.ratio, made.quadrants, made.standing) == (None, None, None, None)
    assert made.ratio_reason == "nobody is in one of the groups"
    assert made.net_benefits[0].estimate is None


def test_a_resample_without_a_group_is_left_out_and_counted() -> None:
    made = of_groups((10, 2, 1), (20, 2, 1), replicates=500)
    # Both rows of a group are missed by all four draws: 2 x (1/2)^4, of 500 about 62.
    assert 30 < made.left_out < 100
    assert len(made.cloud) == 500 - made.left_out


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"willing": [-1]}, "0 or more"),
        ({"index": [1, 2]}, "index 0 or 1"),
        ({"cost": [1.0]}, "lengths differ"),
        ({"effect": [1, np.nan]}, "none missing"),
        ({"replicates": 0}, "at least one resample"),
    ],
)
def test_refusals(changed: dict[str, Any], said: str) -> None:
    asked = {"cost": [1.0, 2.0], "effect": [1, 0], "index": [1, 0], "cluster": [1, 2], **changed}
    with pytest.raises(ValueError, match=said):
        cost_effectiveness(**asked)
