"""The switch of missingness does what its words say, and readers err as often as stated."""

from __future__ import annotations

import math

import numpy as np
import pytest

from synthetic_cohort import imaging
from synthetic_cohort.draws import expit
from synthetic_cohort.frames import cohort
from synthetic_cohort.parameters import Parameters

PEOPLE = 60_000


def drawn_with(missingness, **more):
    drawn = cohort(Parameters(missingness=missingness, **more), PEOPLE, 31)
    sides, operations = drawn.sides, drawn.operations
    operated = sides["intended"][operations["first_side"]] | sides["intended"][operations["second_side"]]
    return drawn, {name: values[operated] for name, values in operations.items()}


def contrast(operations):
    """Scanned share with something left less that with nothing left, and its standard error."""
    left, scanned = operations["left_mm"] > 0, operations["scanned"]
    shares = [scanned[left].mean(), scanned[~left].mean()]
    error = math.hypot(*(math.sqrt(s * (1 - s) / n) for s, n in zip(shares, (left.sum(), (~left).sum()), strict=True)))
    return shares[0] - shares[1], error


def test_completely_random_is_unrelated_to_anything():
    _, operations = drawn_with("completely_random")
    difference, error = contrast(operations)
    assert abs(difference) < 4 * error
    for name in ("age", "burden_mm", "year", "operator"):
        correlation = np.corrcoef(operations[name], operations["scanned"])[0, 1]
        assert abs(correlation) < 4 / math.sqrt(len(operations["age"]))
    assert abs(operations["scanned"].mean() - 0.78) < 0.01


def test_by_recorded_depends_on_what_is_left_only_through_recorded_values():
    drawn, operations = drawn_with("by_recorded")
    difference, error = contrast(operations)
    assert difference > 4 * error
    chance = expit(imaging.scan_log_odds(drawn.parameters, operations))
    surplus = (operations["scanned"] - chance) * np.minimum(operations["left_mm"], 10)
    assert abs(surplus.mean()) < 4 * surplus.std() / math.sqrt(len(surplus))
    shuffled = operations | {"left_mm": operations["left_mm"][::-1]}
    np.testing.assert_array_equal(chance, expit(imaging.scan_log_odds(drawn.parameters, shuffled)))


def test_not_random_depends_on_what_is_left_even_given_the_recorded_values():
    drawn, operations = drawn_with("not_random")
    recorded = Parameters(missingness="by_recorded")
    chance = expit(imaging.scan_log_odds(recorded, operations))
    left = operations["left_mm"] > 4
    surplus = operations["scanned"] - chance
    assert surplus[left].mean() - surplus[~left].mean() > 0.1
    assert drawn.parameters.missingness == "not_random"


def test_scans_fall_on_days_5_to_200():
    wide, _ = drawn_with("completely_random", scan_day_log_sd=1.2)
    assert wide.examinations["day"].min() == imaging.FIRST_SCAN_DAY == 5
    assert wide.examinations["day"].max() == imaging.LAST_SCAN_DAY == 200
    drawn, _ = drawn_with("completely_random", share_later_scan=0)
    assert 0.85 < ((drawn.examinations["day"] >= 14) & (drawn.examinations["day"] <= 90)).mean() < 0.95


@pytest.mark.parametrize(("modality", "sensitivity", "specificity"), [("ultrasound", 0.54, 0.91), ("kub", 0.50, 0.87)])
def test_readers_err_as_often_as_stated(modality, sensitivity, specificity):
    drawn, _ = drawn_with("completely_random", share_indeterminate=0)
    readings = drawn.readings
    of = drawn.examinations["modality"][readings["examination"]] == imaging.MODALITIES.index(modality)
    there, seen = drawn.sides["residual_mm"][readings["side"]] > 0, readings["seen_mm"] > 0
    for event, wanted in ((seen[of & there], sensitivity), (~seen[of & ~there], specificity)):
        assert abs(event.mean() - wanted) < 4 * math.sqrt(wanted * (1 - wanted) / len(event))


def test_without_reading_error_every_reading_is_the_truth():
    drawn, _ = drawn_with("completely_random", reading_error=False)
    np.testing.assert_array_equal(drawn.readings["seen_mm"], drawn.sides["residual_mm"][drawn.readings["side"]])


def test_nobody_is_read_after_the_next_operation_or_death():
    drawn, _ = drawn_with("completely_random", share_died=0.2)
    side = drawn.readings["side"]
    on = drawn.examinations["on"][drawn.readings["examination"]]
    assert (on < drawn.sides["next_on"][side]).all()
    assert (on < drawn.patients["died_on"][drawn.sides["patient"][side]]).all()
