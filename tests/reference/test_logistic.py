"""Logistic regression, its cluster-robust errors and standardised risks against other programs.

Respiratory: Stokes ME, Davis CS, Koch GG, Categorical Data Analysis Using the SAS System (geepack::respiratory; the
cluster is the patient within a centre). Ohio: Ware JH, Dockery DW, Louis TA et al, Am J Epidemiol 1984 (geepack::ohio).
Urine: Andrews DF, Herzberg AM, Data, Springer 1985 (boot::urine). Values: R 4.2.2 glm; sandwich 3.0.2 vcovCL;
standardised risks by numDeriv 2016.8.1.1 jacobian of the averaged predictions.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.design.matrix import Design, design_of
from analysis.design.terms import Term
from analysis.estimators.regression.clustering import Correction
from analysis.estimators.regression.fitted import Fitted, wald_test
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.standardised_risk import standardised_contrasts, standardised_risks

DATA = Path(__file__).parent / "data"
RESPIRATORY = pd.read_csv(DATA / "respiratory.csv")
OHIO = pd.read_csv(DATA / "ohio.csv")
URINE = pd.read_csv(DATA / "urine.csv")


def fitted(
    frame: pd.DataFrame, outcome: str, columns: str, cluster: str | None = None, correction: Correction = "CR1"
) -> tuple[Design, Fitted]:
    terms = [Term(column=name) for name in columns.split()]
    made = design_of(frame, terms, outcome=outcome, needed=[outcome])
    rows = frame.iloc[made.rows]
    groups = None if cluster is None else rows[cluster]
    return made, logistic(rows[outcome], made.x, made.names, cluster=groups, correction=correction)


SIX = "active center2 male age baseline"
OF_RESPIRATORY: dict[Correction, list[float]] = {
    "CR0": [
        0.631237432521195,
        0.346678689277245,
        0.353223510476009,
        0.440245196484585,
        0.012964716204421,
        0.345978447287641,
    ],
    "CR1": [
        0.634100202004029,
        0.348250936296956,
        0.354825439376789,
        0.442241783582448,
        0.0130235134049535,
        0.347547518590427,
    ],
    "CR1S": [
        0.637709224899187,
        0.350233029345316,
        0.3568449516407,
        0.444758831703708,
        0.0130976375858091,
        0.349525608090768,
    ],
}


@pytest.mark.parametrize("correction", OF_RESPIRATORY)
def test_several_visits_of_a_patient(correction: Correction) -> None:
    _, fit = fitted(RESPIRATORY, "outcome", SIX, "uid", correction)
    expected = [-0.719325804469126, 1.26535554186527, 0.649490481564483, -0.136780397117037, -0.0187563595169826]
    assert fit.coefficients == pytest.approx([*expected, 1.84571967966782], rel=1e-5)
    assert fit.standard_errors == pytest.approx(OF_RESPIRATORY[correction], rel=1e-5)
    assert (fit.n, fit.clusters) == (444, 111)


def test_the_model_s_own_errors() -> None:
    _, fit = fitted(RESPIRATORY, "outcome", SIX)
    expected = [0.438136973117264, 0.235000520090827, 0.238257872434298, 0.293329880724253, 0.00881596591866962]
    assert fit.standard_errors == pytest.approx([*expected, 0.239267171959114], rel=1e-5)


@pytest.mark.parametrize(
    ("correction", "errors"),
    [
        ("CR0", [0.114240201829892, 0.0438776672104148, 0.177981845256944]),
        ("CR1S", [0.114400015597254, 0.0439390488885599, 0.178230828966329]),
    ],
)
def test_many_small_clusters(correction: Correction, errors: list[float]) -> None:
    _, fit = fitted(OHIO, "resp", "age smoke", "id", correction)
    assert fit.coefficients == pytest.approx([-1.88373472892944, -0.113412766652829, 0.272138564525097], rel=1e-5)
    assert fit.standard_errors == pytest.approx(errors, rel=1e-5)


def test_columns_on_very_different_scales_and_rows_that_lack_one() -> None:
    terms = [Term(column=name) for name in ["gravity", "ph", "osmo", "cond", "urea", "calc"]]
    made = design_of(URINE, terms, outcome="r", needed=["r"])
    fit = logistic(URINE["r"].iloc[made.rows], made.x, made.names, events_per_parameter=5)
    expected = [-355.337708689574, 355.943795503698, -0.495701876466989, 0.0168112787591497, -0.432818907621188]
    assert fit.coefficients == pytest.approx([*expected, -0.0320131535120531, 0.783691286905186], rel=1e-5)
    assert fit.log_likelihood == pytest.approx(-57.5599476528091 / 2, rel=1e-9)
    assert (fit.n, sum(made.dropped.values())) == (77, 2)


def test_a_curve_in_a_clustered_model() -> None:
    terms = [Term(column="active"), Term(column="baseline"), Term(column="age", shape="spline", knots=4)]
    made = design_of(RESPIRATORY, terms, outcome="outcome")
    fit = logistic(RESPIRATORY["outcome"], made.x, made.names, cluster=RESPIRATORY["uid"], correction="CR0")
    assert made.knots["age"] == pytest.approx((14, 26, 37, 58))
    assert wald_test(fit, made.places("age"), "age").statistic == pytest.approx(12.5733627119432, rel=1e-5)
    curved = wald_test(fit, made.curved_places("age"), "age, curved")
    assert (curved.statistic, curved.df) == (pytest.approx(11.1899143555718, rel=1e-5), 2)
    assert curved.p == pytest.approx(0.00371655848335251, rel=1e-4)


def test_risks_of_a_cohort_if_all_were_treated_and_if_nobody_were() -> None:
    made, fit = fitted(RESPIRATORY, "outcome", SIX, "uid")
    # The reference multiplies by no factor beyond G/(G-1).
    treated, untreated = (made.encode(RESPIRATORY.assign(active=value)) for value in (1, 0))
    one, none = standardised_risks(fit, [treated, untreated], ["treated", "untreated"])
    assert (one.estimate, one.standard_error) == pytest.approx((0.67994918797969, 0.0387205846653506), rel=1e-5)
    assert (none.estimate, none.standard_error) == pytest.approx((0.439198048101626, 0.0475545923733138), rel=1e-5)
    found = standardised_contrasts(fit, treated, untreated)
    expected = {
        "difference": (0.240751139878064, 0.0629683485931457),
        "ratio": (1.54816076919895, 0.125102557584426),
        "odds_ratio": (2.71273044345272, 0.26971730999176),
    }
    for measure, (value, error) in expected.items():
        assert (found[measure].estimate, found[measure].standard_error) == pytest.approx((value, error), rel=1e-5)
    assert np.log(found["ratio"].high / found["ratio"].estimate) == pytest.approx(
        1.959964 * 0.125102557584426, rel=1e-5
    )
