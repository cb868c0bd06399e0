"""Penalised, marginal and random-intercept logistic models against published and other programs' numbers.

Endometrial cancer: Heinze G, Schemper M, Stat Med 2002;21:2409-2419 (printed coefficients 2.929, -0.035, -2.604;
digits beyond by R's brglm2 0.9 and a Newton of its own; one column separates). Respiratory and Ohio as in
test_logistic: geepack 1.3.9 geeglm, lme4 1.1.31 glmer with 1 and 15 points.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.design.matrix import design_of
from analysis.design.terms import Term
from analysis.estimators.regression.firth import firth, profile_effects
from analysis.estimators.regression.fitted import NotEstimable
from analysis.estimators.regression.marginal import estimating_equations
from analysis.estimators.regression.random_intercept import random_intercept_logistic

DATA = Path(__file__).parent / "data"
SIX = "active center2 male age baseline"


def matrix(frame: pd.DataFrame, columns: str) -> tuple[np.ndarray, tuple[str, ...]]:
    made = design_of(frame, [Term(column=name) for name in columns.split()])
    return made.x, made.names


def test_firth_where_a_plain_model_has_no_maximum() -> None:
    data = pd.read_csv(DATA / "endometrial.csv")
    x, names = matrix(data, "NV PI EH")
    fit = firth(data["HG"], x, names)
    expected = [3.77455971364703, 2.92927335319709, -0.0347517598704339, -2.60416392529365]
    assert fit.coefficients == pytest.approx(expected, rel=1e-6)
    errors = [1.48869166343565, 1.55076373945304, 0.039578147347763, 0.776017642501562]
    assert fit.standard_errors == pytest.approx(errors, rel=1e-6)
    assert fit.log_likelihood == pytest.approx(-24.0372678006979, rel=1e-8)
    found = profile_effects(fit, data["HG"], x, range(4), names)
    lower = [1.0825371084477, 0.609724436303204, -0.124458720851728, -4.36518324726322]
    upper = [7.20928049824692, 7.8546317138774, 0.0404554731806037, -1.23272105721701]
    assert [np.log(one.low) for one in found] == pytest.approx(lower, rel=1e-5)
    assert [np.log(one.high) for one in found] == pytest.approx(upper, rel=1e-5)
    p = [0.00419362788558667, 0.0091236675470855, 0.387482203566442, 2.50686721485578e-05]
    assert [one.p for one in found] == pytest.approx(p, rel=1e-5)


def test_firth_with_columns_that_hardly_tell_each_other_apart() -> None:
    data = pd.read_csv(DATA / "urine.csv").dropna()
    x, names = matrix(data, "gravity ph osmo cond urea calc")
    fit = firth(data["r"], x, names)
    found = profile_effects(fit, data["r"], x, [6], ["calc"])[0]
    # The scaled columns' printed limits are for one standard deviation (n - 1) of each.
    unit = float(data["calc"].std())
    assert fit.coefficients[6] * unit == pytest.approx(2.1514799033161, rel=1e-4)
    assert np.log([found.low, found.high]) * unit == pytest.approx([0.969609753019309, 3.81875681065502], rel=1e-4)
    assert found.p == pytest.approx(2.06132433834021e-05, rel=1e-4)


def test_estimating_equations() -> None:
    data = pd.read_csv(DATA / "respiratory.csv")
    x, names = matrix(data, SIX)
    fit = estimating_equations(data["outcome"], x, names, data["uid"])
    expected = [-0.719325804469123, 1.26535554186527, 0.649490481564485, -0.136780397117036, -0.0187563595169827]
    assert fit.coefficients == pytest.approx([*expected, 1.84571967966782], rel=1e-3, abs=1e-4)
    errors = [0.631237432521201, 0.346678689277247, 0.353223510476009, 0.440245196484588, 0.0129647162044211]
    assert fit.standard_errors == pytest.approx([*errors, 0.345978447287642], rel=1e-3)
    # Moment estimators of the correlation differ by some thousandths.
    assert fit.extra["correlation_within"] == pytest.approx(0.328527842152892, abs=5e-3)
    ohio = pd.read_csv(DATA / "ohio.csv")
    x, names = matrix(ohio, "age smoke")
    fit = estimating_equations(ohio["resp"], x, names, ohio["id"])
    assert fit.coefficients == pytest.approx([-1.88042528613494, -0.113384996708164, 0.265075740617397], rel=1e-3)
    assert fit.standard_errors == pytest.approx([0.11389271346178, 0.0438552895780471, 0.177746551149591], rel=1e-3)


@pytest.mark.parametrize(
    ("file", "outcome", "columns", "cluster", "points", "coefficients", "errors", "sd"),
    [
        (
            "respiratory", "outcome", SIX, "uid", 1,
            [-1.25484968477055, 2.04836076230192, 0.980914712600113, -0.246453976750477, -0.0270580032321426,
             2.94832137289124],
            [0.992439485257466, 0.536067126363807, 0.531362968860483, 0.654440005589146, 0.0195892520309822,
             0.579480885386782],
            1.9084961762214,
        ),
        (
            "respiratory", "outcome", SIX, "uid", 15,
            [-1.23964725368884, 2.02558381968192, 0.979316008854511, -0.243438850268804, -0.0268517620355188,
             2.91679968725282],
            [1.01696159153078, 0.544081003970474, 0.54515534867021, 0.672247748463714, 0.0201754686941908,
             0.58032482486787],
            1.98362695096784,
        ),
        (
            "ohio", "resp", "age smoke", "id", 15,
            [-3.09960559, -0.175608448291335, 0.398377242640531],
            [0.218382544950346, 0.0676742597854955, 0.272826155394492],
            2.16233455608572,
        ),
    ],
)  # fmt: skip
def test_a_level_for_each_cluster(
    file: str,
    outcome: str,
    columns: str,
    cluster: str,
    points: int,
    coefficients: list[float],
    errors: list[float],
    sd: float,
) -> None:
    data = pd.read_csv(DATA / f"{file}.csv")
    x, names = matrix(data, columns)
    fit = random_intercept_logistic(data[outcome], x, names, data[cluster], points=points)
    assert fit.coefficients == pytest.approx(coefficients, rel=1.5e-3, abs=1e-4)
    assert fit.standard_errors == pytest.approx(errors, rel=1e-3)
    assert fit.extra["sd"] == pytest.approx(sd, rel=5e-4)


def test_how_much_of_the_variance_lies_between_clusters() -> None:
    data = pd.read_csv(DATA / "respiratory.csv")
    x, names = matrix(data, SIX)
    fit = random_intercept_logistic(data["outcome"], x, names, data["uid"])
    assert fit.extra["share"] == pytest.approx(0.544632493008154, rel=1e-3)
    assert fit.extra["median_odds_ratio"] == pytest.approx(6.63346507054875, rel=1e-3)
    assert len(fit.extra["modes"]) == 111


def test_one_cluster_has_no_spread_between_clusters() -> None:
    data = pd.read_csv(DATA / "respiratory.csv")
    x, names = matrix(data, SIX)
    with pytest.raises(NotEstimable, match="two clusters or more"):
        random_intercept_logistic(data["outcome"], x, names, np.zeros(len(data)))
