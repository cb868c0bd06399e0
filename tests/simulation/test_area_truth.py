"""Areas whose truth is known: two normal scores a distance d apart have the area Phi(d / sqrt 2).

Coverage and bias over many samples; with both sides of each patient alike, only the interval by patient holds.
"""

from __future__ import annotations

from math import sqrt
from statistics import NormalDist

import numpy as np
import pytest

from analysis.estimators.calibration import calibration
from analysis.estimators.discrimination import auc

DISTANCE, SAMPLES, PATIENTS = 0.9, 300, 120
TRUE_AREA = NormalDist().cdf(DISTANCE / sqrt(2))


def samples() -> list[tuple[np.ndarray, np.ndarray]]:
    chance = np.random.default_rng(20)
    made = []
    for _ in range(SAMPLES):
        outcome = chance.random(PATIENTS) < 0.35
        made.append((outcome, chance.normal(size=PATIENTS) + DISTANCE * outcome))
    return made


def covered(limits: list[tuple[float | None, float | None]]) -> float:
    return float(np.mean([low is not None and high is not None and low <= TRUE_AREA <= high for low, high in limits]))


def test_delong_covers_the_truth_and_the_area_is_not_off() -> None:
    found = [auc(outcome, score) for outcome, score in samples()]
    estimates = np.array([one.estimate for one in found], dtype=np.float64)
    assert abs(estimates.mean() - TRUE_AREA) < 3 * estimates.std(ddof=1) / sqrt(SAMPLES)
    error = sqrt(0.95 * 0.05 / SAMPLES)
    assert covered([(one.low, one.high) for one in found]) == pytest.approx(0.95, abs=3 * error)
    assert covered([(one.low_logit, one.high_logit) for one in found]) == pytest.approx(0.95, abs=3 * error)


def test_with_two_like_sides_a_patient_only_the_interval_by_patient_holds() -> None:
    patients = np.repeat(np.arange(PATIENTS), 2)
    found = [
        auc(np.repeat(outcome, 2), np.repeat(score, 2), cluster=patients, replicates=400)
        for outcome, score in samples()
    ]
    error = sqrt(0.95 * 0.05 / SAMPLES)
    # Two like sides halve DeLong's variance: z falls to 1.96 / sqrt 2, which covers 83.4 %.
    assert covered([(one.low, one.high) for one in found]) < 0.95 - 3 * error
    assert covered([(one.low_clustered, one.high_clustered) for one in found]) == pytest.approx(0.95, abs=3 * error)


def test_a_right_model_is_found_right_and_a_timid_one_timid() -> None:
    chance = np.random.default_rng(21)
    large, slope, timid = [], [], []
    for _ in range(SAMPLES):
        logit = chance.normal(size=400)
        outcome = chance.random(400) < 1 / (1 + np.exp(-logit))
        right = calibration(outcome, 1 / (1 + np.exp(-logit)))
        large.append(right.in_the_large)
        slope.append(right.slope)
        timid.append(calibration(outcome, 1 / (1 + np.exp(-logit / 2))).slope.estimate)
    error = sqrt(0.95 * 0.05 / SAMPLES)
    for truth, found in ((0.0, large), (1.0, slope)):
        within = [one.low is not None and one.high is not None and one.low <= truth <= one.high for one in found]
        assert float(np.mean(within)) == pytest.approx(0.95, abs=3 * error)
    assert float(np.mean(np.array(timid, dtype=np.float64))) == pytest.approx(2.0, abs=0.06)
