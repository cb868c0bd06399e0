"""Comparisons of groups, among them the published 1986 series whose direction turns within strata of size."""

from __future__ import annotations

from typing import Any

import pandas as pd
import pytest

from analysis.reports.stone_free.comparisons import Comparison
from registry.schema.errors import GravelbookError

from .made import DIED, FAILED, FREE, NOT_DUE, OUT, UNSCANNED, answer, sides_of, statuses, unit

# Charig CR, Webb DR, Payne SR, Wickham JEA. Br Med J 1986;292:879-882, by size as in Julious SA, Mullee MA.
# BMJ 1994;309:1480: (technique, size) -> stone-free (none or under 2 mm after three months), treated.
CHARIG_1986 = {
    ("open", 15.0): (81, 87),
    ("open", 30.0): (192, 263),
    ("percutaneous", 15.0): (234, 270),
    ("percutaneous", 30.0): (55, 80),
}


def charig() -> tuple[pd.DataFrame, pd.DataFrame]:
    units, technique, size = [], [], []
    for (by, largest), (free, n) in CHARIG_1986.items():
        units += [unit(FREE)] * free + [unit(FAILED)] * (n - free)
        technique += [by] * n
        size += [largest] * n
    frame = statuses(units, codes=("lt2",))
    return frame, sides_of(frame, technique=technique, largest_mm=size)


def compared(index: str = "open", comparator: str = "percutaneous", **typed: str) -> Comparison:
    frame, sides = charig()
    made = answer(frame, sides, compare=f"technique={index},{comparator}", strata="largest_mm:20", **typed)
    return made.comparisons[0]


def near(value: float | None, expected: float, digits: float = 5e-5) -> bool:
    return value == pytest.approx(expected, abs=digits)


def test_the_groups_counted_are_those_published():
    found = compared()
    assert (found.free_index, found.n_index) == (273, 350)
    assert (found.free_comparator, found.n_comparator) == (289, 350)
    assert (found.threshold.code, found.unscanned) == ("lt2", "complete")


def test_crude_effects_favour_percutaneous():
    crude = compared().effects["crude"]
    assert near(crude["difference"].estimate, -0.045714)
    assert near(crude["odds_ratio"].estimate, 0.7483)
    assert near(crude["odds_ratio"].low, 0.5146)
    assert near(crude["odds_ratio"].high, 1.0883)
    assert near(crude["ratio"].estimate, 273 / 289)


def test_within_strata_of_size_the_direction_turns():
    pooled = compared().effects["mantel_haenszel"]
    assert near(pooled["odds_ratio"].estimate, 1.44685)
    assert near(pooled["odds_ratio"].low, 0.91579)
    assert near(pooled["odds_ratio"].high, 2.28587)
    assert near(pooled["difference"].estimate, 0.053836, 5e-7)


def test_standardised_to_the_mix_of_both_groups():
    found = compared()
    assert found.standardised_rates is not None
    assert near(found.standardised_rates[0], 0.8325)
    assert near(found.standardised_rates[1], 0.7789)
    assert near(found.effects["standardised"]["difference"].estimate, 0.8325 - 0.7789, 1e-4)


def test_homogeneity_is_breslow_day_with_tarones_correction():
    test = compared().homogeneity
    assert test is not None
    assert test.test == "Breslow-Day with Tarone's correction"
    # 0.96845 before the correction; computed with R 4.2.2.
    assert test.statistic == pytest.approx(0.965629777917164, rel=1e-9)
    assert test.df == 1
    assert test.p == pytest.approx(0.325772523413404, rel=1e-9)


def test_exchanging_index_and_comparator_turns_every_effect_round():
    one, other = compared().effects, compared("percutaneous", "open").effects
    for way in ("crude", "mantel_haenszel", "standardised"):
        assert one[way]["difference"].estimate == pytest.approx(-other[way]["difference"].estimate)  # type: ignore[operator]
        assert one[way]["odds_ratio"].low == pytest.approx(1 / other[way]["odds_ratio"].high)  # type: ignore[operator]


def test_the_resampled_limits_surround_the_estimate_and_repeat_with_the_seed():
    once, again, other = compared(seed="4"), compared(seed="4"), compared(seed="5")
    for way in ("crude", "mantel_haenszel", "standardised"):
        effect = once.effects[way]["difference"]
        assert effect.low_bootstrap < effect.estimate < effect.high_bootstrap  # type: ignore[operator]
    assert once.effects == again.effects
    assert once.effects != other.effects


def small(**typed: str) -> list[Comparison]:
    units = [unit(FREE), unit(FAILED), unit(FREE), unit(UNSCANNED), unit(FREE), unit(NOT_DUE), unit(DIED), unit(OUT)]
    frame = statuses(units, codes=("2",))
    columns: dict[str, Any] = {
        "arm": ["a", "a", "b", "b", "b", "a", "b", "c"],
        "stratum": ["x", "x", "x", "y", None, "y", "y", "x"],
    }
    return answer(frame, sides_of(frame, **columns), compare="arm=a,b", **typed).comparisons


def test_without_strata_only_the_crude_effect_is_there():
    (found,) = small()
    assert list(found.effects) == ["crude"]
    assert found.homogeneity is None
    assert found.strata_left_out == ()


def test_each_way_with_the_unscanned_has_its_own_comparison():
    complete, lower, upper = small(unscanned="complete,lower,upper")
    assert (complete.free_comparator, complete.n_comparator) == (2, 2)
    assert (lower.free_comparator, lower.n_comparator) == (2, 3)
    assert (upper.free_comparator, upper.n_comparator) == (3, 3)


def test_strata_that_lack_a_group_are_listed_and_missing_is_a_stratum():
    (found,) = small(strata="stratum")
    assert found.strata_left_out == ("y", "not recorded")


def test_a_group_that_does_not_occur_inside_the_denominator_is_refused_with_those_that_do():
    frame = statuses([unit(FREE), unit(OUT)], codes=("2",))
    sides = sides_of(frame, arm=["a", "c"])
    for compare in ("arm=a,c", "arm=z,a"):
        with pytest.raises(GravelbookError, match=r"nothing to compare[.] What occurs is: a"):
            answer(frame, sides, compare=compare)


def test_stretches_between_cuts_can_be_compared_with_or_without_their_unit():
    frame, sides = charig()
    for groups in ("20 mm and over,under 20 mm", "20 and over,under 20"):
        (found,) = answer(frame, sides, compare=f"largest_mm:20={groups}").comparisons
        assert (found.free_index, found.n_index) == (247, 343)
