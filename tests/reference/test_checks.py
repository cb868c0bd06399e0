"""Optimism, influence and collinearity against other programs.

Urine: Andrews DF, Herzberg AM, Data, Springer 1985 (boot::urine, complete rows); resamples fixed, R 4.2.2 glm and pROC
1.18.0. Birthweight: Hosmer DW, Lemeshow S, Applied Logistic Regression, 1989 (MASS::birthwt); rms 6.5.0 validate(lrm),
500 resamples. Occupations: Duncan OD, in Reiss AJ, Occupations and Social Status, 1961 (carData::Duncan); inflation as
printed in help(vif) of R's car 1.0.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.regression.checks.collinearity import variance_inflation
from analysis.estimators.regression.checks.influence import influence
from analysis.estimators.regression.checks.optimism import optimism
from analysis.estimators.regression.logistic import logistic

DATA = Path(__file__).parent / "data"
URINE = pd.read_csv(DATA / "urine_complete.csv")
BIRTHS = pd.read_csv(DATA / "birthwt.csv")


def matrix(frame: pd.DataFrame, columns: str) -> np.ndarray:
    return np.column_stack([np.ones(len(frame)), frame[columns.split()]]).astype(float)


def test_optimism_with_given_resamples() -> None:
    rows = pd.read_csv(DATA / "urine_resamples.csv").to_numpy() - 1
    weights = np.stack([np.bincount(rows[:, at], minlength=len(URINE)) for at in range(rows.shape[1])])
    found = optimism(URINE["r"], matrix(URINE, "ph calc urea"), weights=weights)
    tolerance = {"rel": 1e-6, "abs": 1e-7}
    assert found.area.apparent == pytest.approx(0.806473829201102, **tolerance)
    assert found.area.optimism == pytest.approx(0.0331367715231738, **tolerance)
    assert found.area.corrected == pytest.approx(0.773337057677928, **tolerance)
    assert found.slope.corrected == pytest.approx(0.808281941084938, **tolerance)
    assert found.brier.apparent == pytest.approx(0.16889644885377, **tolerance)
    assert found.brier.corrected == pytest.approx(0.193636779481871, **tolerance)
    first = [0.0121334557698194, 0.0441680960548886, 0.0192837465564738]
    assert found.optimism_of_area[:3] == pytest.approx(first, **tolerance)
    assert (found.replicates, found.lost) == (25, 0)


def test_optimism_with_drawn_resamples() -> None:
    found = optimism(BIRTHS["low"], matrix(BIRTHS, "age lwt smoke ht ui ptl"), replicates=500, seed=11)
    assert found.area.apparent == pytest.approx(0.73767926988266, rel=1e-6)
    assert found.area.corrected == pytest.approx(0.70147006321456, abs=0.01)
    assert found.slope.corrected == pytest.approx(0.764105473580736, abs=0.05)


def test_influence_of_rows_is_the_library_s() -> None:
    import statsmodels.api as sm

    x = matrix(BIRTHS, "age lwt smoke ht ui ptl")
    fit = logistic(BIRTHS["low"], x, [str(at) for at in range(7)], events_per_parameter=5)
    theirs = sm.GLM(BIRTHS["low"].to_numpy(), x, family=sm.families.Binomial()).fit(tol=1e-12).get_influence()
    ours = influence(fit, BIRTHS["low"], x, exposure=[3], shown=189)
    cook = {int(each.cluster): each.cook for each in ours.most}
    assert [cook[at] for at in range(189)] == pytest.approx(theirs.cooks_distance[0], rel=1e-5)
    dfbeta = {int(each.cluster): each.dfbeta for each in ours.most}
    assert [dfbeta[at] for at in range(189)] == pytest.approx(theirs.dfbetas[:, 3], rel=1e-4, abs=1e-8)
    leverage = {int(each.cluster): each.leverage for each in ours.most}
    assert [leverage[at] for at in range(189)] == pytest.approx(theirs.hat_matrix_diag, rel=1e-5)


def test_inflation_of_single_columns_is_the_library_s() -> None:
    from statsmodels.stats.outliers_influence import variance_inflation_factor

    x = matrix(URINE, "gravity ph osmo cond urea calc")
    ours = variance_inflation(x, {str(at): [at] for at in range(1, 7)})
    assert [each.factor for each in ours] == pytest.approx(
        [variance_inflation_factor(x, at) for at in range(1, 7)], rel=1e-6
    )


# Of 45 occupations: type (professional, white collar, blue collar), income, education.
OCCUPATIONS = """
p 62 86 p 72 76 p 75 92 p 55 90 p 64 86 p 21 84 p 64 93 p 80 100 w 67 87 p 72 86 p 42 74 p 76 98 p 76 97 p 41 84 p 48 91
w 76 34 p 53 45 p 60 56 p 42 44 p 78 82 w 29 72 w 48 55 w 55 71 w 29 50 b 21 23 b 47 39 b 81 28 b 36 32 b 22 22 b 44 25
b 15 29 b 7 7 b 42 26 b 9 19 b 21 15 b 21 20 b 16 26 b 16 28 b 9 17 b 14 22 b 12 30 b 17 25 b 7 20 b 34 47 b 8 32
"""


def test_inflation_of_occupations_with_a_term_of_two_columns() -> None:
    words = np.array(OCCUPATIONS.split()).reshape(45, 3)
    income, education = words[:, 1].astype(float), words[:, 2].astype(float)
    kind = [words[:, 0] == "p", words[:, 0] == "w"]
    x = np.column_stack([np.ones(45), income, education, *kind]).astype(float)
    two = variance_inflation(x[:, :3], {"income": [1], "education": [2]})
    assert [each.factor for each in two] == pytest.approx([2.1049, 2.1049], abs=5e-5)
    three = variance_inflation(x, {"income": [1], "education": [2], "type": [3, 4]})
    assert [each.factor for each in three] == pytest.approx([2.209178, 5.297584, 5.098592], abs=5e-7)
    assert [each.root for each in three] == pytest.approx([1.486330, 2.301648, 1.502666], abs=5e-7)
