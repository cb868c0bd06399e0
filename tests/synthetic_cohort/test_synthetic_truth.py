"""What a large cohort shows agrees with the true values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from registry.schema.errors import GravelbookError
from synthetic_cohort.frames import COMPLETED, cohort
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.truth import Estimand, estimands, true_value

BY_LOT = Parameters(confounding=0, share_sheath_fails=0)
PEOPLE = 150_000


@pytest.fixture(scope="module")
def as_it_is():
    return cohort(Parameters(), PEOPLE, 77)


@pytest.fixture(scope="module")
def by_lot():
    return cohort(BY_LOT, PEOPLE, 78)


def rate_and_error(event):
    rate = event.mean()
    return rate, math.sqrt(rate * (1 - rate) / len(event))


@pytest.mark.parametrize(
    ("threshold", "free"),
    [
        ("0", lambda mm: mm == 0),
        ("lt2", lambda mm: mm < 2),
        ("2", lambda mm: mm <= 2),
        ("lt4", lambda mm: mm < 4),
        ("4", lambda mm: mm <= 4),
    ],
)
@pytest.mark.parametrize("which", ["all", "first"])
def test_stone_free_rates(as_it_is, threshold, free, which):
    sides = as_it_is.sides
    chosen = sides["intended"] & ((sides["parent"] < 0) | (which == "all"))
    rate, error = rate_and_error(free(sides["residual_mm"][chosen]))
    true = true_value(Parameters(), Estimand(threshold=threshold, sides=which))
    assert abs(rate - true.value) < 4 * math.hypot(error, true.error)


def test_infection_rate(as_it_is):
    sides, operations = as_it_is.sides, as_it_is.operations
    operated = sides["intended"][operations["first_side"]] | sides["intended"][operations["second_side"]]
    rate, error = rate_and_error(operations["infection"][operated])
    true = true_value(Parameters(), "infection")
    assert abs(rate - true.value) < 4 * math.hypot(error, true.error)


def eligible(drawn):
    sides = drawn.sides
    return sides["intended"] & (sides["parent"] < 0) & (sides["sheath"] > 0)


@pytest.mark.parametrize("threshold", ["0", "2", "4"])
def test_effect_of_the_ratio_when_equipment_is_dealt_out_by_lot(by_lot, threshold):
    sides, chosen = by_lot.sides, eligible(by_lot)
    free = sides["residual_mm"] <= float(threshold)
    wide = rate_and_error(free[chosen & np.isclose(sides["ratio"], 1.6)])
    tight = rate_and_error(free[chosen & np.isclose(sides["ratio"], 100 / 85)])
    true = true_value(BY_LOT, Estimand("stone_free", "ratio", "difference", threshold, 1.6, 100 / 85))
    assert abs(wide[0] - tight[0] - true.value) < 4 * math.hypot(wide[1], tight[1])
    assert true.value > 0.03


def test_effect_of_suction_when_it_is_dealt_out_by_lot(by_lot):
    sides, chosen = by_lot.sides, eligible(by_lot)
    free = sides["residual_mm"] <= 2
    used, unused = rate_and_error(free[chosen & sides["suction"]]), rate_and_error(free[chosen & ~sides["suction"]])
    true = true_value(BY_LOT, Estimand("stone_free", "suction", "difference", "2", 1, 0))
    assert abs(used[0] - unused[0] - true.value) < 4 * math.hypot(used[1], unused[1])


def test_infection_at_each_ratio_when_equipment_is_dealt_out_by_lot(by_lot):
    chosen, operations = eligible(by_lot), by_lot.operations
    one = operations["first_side"] == operations["second_side"]
    alone = Parameters(confounding=0, share_sheath_fails=0, share_bilateral=0)
    for ratio in (1.6, 4 / 3, 100 / 85):
        at = chosen[operations["first_side"]] & one & np.isclose(operations["tightest_ratio"], ratio)
        rate, error = rate_and_error(operations["infection"][at])
        true = true_value(alone, Estimand("infection", "ratio", "probability", index=ratio))
        assert abs(rate - true.value) < 4 * math.hypot(error, true.error)


def test_confounding_bends_the_crude_effect(as_it_is):
    sides, chosen = as_it_is.sides, eligible(as_it_is)
    free = sides["residual_mm"] <= 2
    wide = rate_and_error(free[chosen & np.isclose(sides["ratio"], 1.6)])
    tight = rate_and_error(free[chosen & np.isclose(sides["ratio"], 100 / 85)])
    true = true_value(Parameters(), Estimand("stone_free", "ratio", "difference", "2", 1.6, 100 / 85))
    assert abs(wide[0] - tight[0] - true.value) > 4 * math.hypot(wide[1], tight[1])


def test_conditional_odds_ratio_is_the_same_at_every_threshold():
    alike = Parameters(
        confounding=0, share_sheath_fails=0, patient_sd=0, operator_sd=0, burden_log_sd=0, density_sd_hu=0,
        free_lower_pole=0, free_per_year=0, free_suction=0, share_ureteric=0, share_percutaneous_if_large=0,
    )  # fmt: skip
    drawn = cohort(alike, PEOPLE, 79)
    sides = drawn.sides
    chosen = eligible(drawn) & (sides["conduct"] == COMPLETED)
    true = true_value(alike, Estimand("stone_free", "ratio", "conditional_odds_ratio", "2", 1.6, 100 / 85))
    assert true.error == 0
    assert true.value == pytest.approx(math.exp(0.12 * (1.6 - 100 / 85) * 10))
    for threshold in (0, 2, 4):
        logs, variance = 0.0, 0.0
        for ratio, sign in ((1.6, 1), (100 / 85, -1)):
            free = sides["residual_mm"][chosen & np.isclose(sides["ratio"], ratio)] <= threshold
            logs += sign * math.log(free.sum() / (~free).sum())
            variance += 1 / free.sum() + 1 / (~free).sum()
        assert abs(logs - math.log(true.value)) < 4 * math.sqrt(variance)


def test_above_the_plateau_more_room_brings_nothing():
    flat = Parameters(ratio_plateau=1.3)
    assert true_value(flat, Estimand("stone_free", "ratio", "difference", "2", 1.6, 1.35)).value == 0
    assert true_value(flat, Estimand("stone_free", "ratio", "difference", "2", 1.3, 1.1)).value > 0


def test_both_sides_of_a_patient_are_alike_only_through_the_patient():
    def agreement(patient_sd):
        drawn = cohort(Parameters(patient_sd=patient_sd, share_bilateral=1, burden_log_sd=0, operator_sd=0), 60_000, 5)
        first = drawn.operations["first_side"][: len(drawn.patients["age"])]
        second = drawn.operations["second_side"][: len(drawn.patients["age"])]
        pair = (first != second) & drawn.sides["intended"][first] & drawn.sides["intended"][second]
        free = drawn.sides["residual_mm"] == 0
        return np.corrcoef(free[first[pair]], free[second[pair]])[0, 1]

    assert agreement(2.0) > agreement(0.0) + 0.15


def test_every_named_estimand_has_a_value_and_a_small_error():
    for name in estimands():
        true = true_value(Parameters(), name)
        assert math.isfinite(true.value)
        assert 0 <= true.error < 0.01


@pytest.mark.parametrize("threshold", ["5", "lt0", "1.3", "two"])
def test_thresholds_without_an_exact_truth_are_refused(threshold):
    with pytest.raises(GravelbookError, match="no known true value"):
        true_value(Parameters(), Estimand(threshold=threshold), population=200)


def test_an_unknown_estimand_and_an_effect_of_nothing_are_refused():
    with pytest.raises(GravelbookError, match="no estimand"):
        true_value(Parameters(), "luck")
    with pytest.raises(GravelbookError, match="needs an exposure"):
        true_value(Parameters(), Estimand(measure="difference"))
    with pytest.raises(GravelbookError, match="not one number"):
        true_value(Parameters(), Estimand("infection", "ratio", "conditional_odds_ratio"))
