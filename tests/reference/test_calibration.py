"""Measures of calibration against values computed elsewhere: R 4.2.2 glm, cross-checked by rms 6.5.0 val.prob.

Urine crystals (Andrews DF, Herzberg AM, Data, Springer 1985): probabilities of a model fitted to the same 77 rows, so
that the slope is 1 and the intercept 0. Pancreatitis after endoscopy (Elmunzer BJ et al., N Engl J Med
2012;366:1414-1422): probabilities of a model made in one centre, for the 189 patients of the other three. Both files
hold outcome and probability, as R gave them.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.calibration import Calibration, calibration, risk_groups
from analysis.estimators.discrimination import auc

DATA = Path(__file__).parent / "data"


def of(name: str) -> tuple[pd.DataFrame, Calibration]:
    rows = pd.read_csv(DATA / f"predictions_{name}.csv")
    return rows, calibration(rows["y"], rows["p"])


def test_predictions_of_the_same_rows() -> None:
    rows, found = of("urine")
    assert (found.n, found.events) == (77, 33)
    assert auc(rows["y"], rows["p"]).estimate == pytest.approx(0.806473829201102, rel=1e-6)
    assert (found.brier, found.brier_scaled) == pytest.approx((0.16889644885377, 0.310339500513772), rel=1e-6)
    assert found.observed_to_expected == pytest.approx(1, rel=1e-6)
    assert found.in_the_large.estimate == pytest.approx(0, abs=1e-6)
    assert found.in_the_large.standard_error == pytest.approx(0.278143320412527, rel=1e-6)
    assert found.slope.estimate == pytest.approx(1, abs=1e-6)
    assert found.slope.standard_error == pytest.approx(0.245770622687677, rel=1e-6)
    fit = found.goodness_of_fit
    assert fit is not None
    assert (fit.statistic, fit.groups) == (pytest.approx(6.95797550744937, rel=1e-6), 10)
    assert (fit.p_own, fit.p_external) == pytest.approx((0.541173535166126, 0.729406279580153), rel=1e-6)


def test_predictions_made_elsewhere() -> None:
    rows, found = of("pancreatitis")
    assert (found.n, found.events) == (189, 38)
    assert auc(rows["y"], rows["p"]).estimate == pytest.approx(0.724991286162426, rel=1e-6)
    assert (found.brier, found.brier_scaled) == pytest.approx((0.164369656961257, -0.0232569739130453), rel=1e-6)
    assert found.observed_to_expected == pytest.approx(2.35092403373079, rel=1e-6)
    large, slope = found.in_the_large, found.slope
    assert (large.estimate, large.standard_error) == pytest.approx((1.02266949307884, 0.185453228665529), rel=1e-6)
    assert (slope.estimate, slope.standard_error) == pytest.approx((1.68664863853372, 0.399030060142658), rel=1e-6)
    assert found.slope_intercept == pytest.approx(2.5971678700477, rel=1e-6)
    fit = found.goodness_of_fit
    assert fit is not None
    assert (fit.statistic, fit.groups) == (pytest.approx(50.5254384704281, rel=1e-6), 10)
    assert fit.p_external == pytest.approx(2.13622907082158e-07, rel=1e-5)
    assert fit.p_own == pytest.approx(3.23847746601131e-08, rel=1e-5)


def test_groups_of_like_risk_hold_everybody() -> None:
    _, found = of("pancreatitis")
    assert (sum(g.n for g in found.curve), sum(g.events for g in found.curve)) == (189, 38)
    assert [g.predicted for g in found.curve] == sorted(g.predicted for g in found.curve)
    (alone,) = risk_groups([0, 1, 1], [0.3, 0.3, 0.3])
    assert (alone.n, alone.observed, alone.predicted) == (3, 2 / 3, pytest.approx(0.3))


def test_what_cannot_be_said_says_why() -> None:
    assert calibration([], []).reason == "there is nobody"
    assert "does not occur" in str(calibration([1, 1], [0.2, 0.4]).slope.reason)
    assert "no logit" in str(calibration([0, 1], [0.0, 0.4]).in_the_large.reason)
    alike = calibration([0, 1, 1, 0], [0.5] * 4)
    assert (alike.in_the_large.estimate, alike.goodness_of_fit) == (pytest.approx(0, abs=1e-9), None)
    assert "alike" in str(alike.slope.reason)
    assert "without error" in str(calibration([0, 0, 1, 1], [0.1, 0.2, 0.3, 0.4]).slope.reason)
    sure = calibration(np.array([0, 0, 1, 1]), np.array([0.0, 0.0, 1.0, 1.0]))
    assert (sure.brier, sure.goodness_of_fit) == (0.0, None)


@pytest.mark.parametrize(
    ("outcome", "probability", "said"),
    [([0], [0.1, 0.2], "equal length"), ([2], [0.1], "0 or 1"), ([1], [1.2], "between 0 and 1")],
)
def test_unsound_rows_are_refused(outcome: list[int], probability: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        calibration(outcome, probability)
