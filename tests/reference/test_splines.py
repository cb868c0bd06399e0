"""Restricted cubic splines against another program.

Data: Andrews DF, Herzberg AM, Data, Springer 1985 (calcium oxalate crystals in urine; R's boot::urine, its 77 complete
rows). Knots, bases and coefficients: R 4.2.2, Hmisc 4.8.0 rcspline.eval (norm = 2) with glm, cross-checked there with
rms 6.5.0 lrm.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from analysis.design.matrix import design_of
from analysis.design.splines import basis, knots_of
from analysis.design.terms import Term

URINE = pd.read_csv(Path(__file__).parent / "data" / "urine_complete.csv")


def test_four_knots_of_a_ratio() -> None:
    knots = knots_of(URINE["calc_urea"], 4)
    assert knots == pytest.approx((3.672986, 11.2606838, 17.9274342, 42.621951), rel=1e-9)
    made = basis([5, 10, 15, 20, 30, 50], knots)
    assert made[:, 1] == pytest.approx(
        [
            0.00154040411807428,
            0.166956965704483,
            0.95797564675159,
            2.85973004375826,
            10.1991683741343,
            31.3926895476793,
        ],
        rel=1e-9,
    )
    assert made[:, 2] == pytest.approx(
        [0, 0, 0.0344655116447107, 0.432534764053899, 2.8648079250234, 10.7762283386246], rel=1e-8, abs=1e-12
    )


def test_a_logistic_model_of_the_curve() -> None:
    made = design_of(URINE, [Term(column="calc_urea", shape="spline", knots=4)], outcome="r")
    fitted = sm.Logit(URINE["r"].to_numpy(dtype=float)[made.rows], made.x).fit(disp=0)
    expected = [-1.01653715090371, -0.0772035321971245, 1.96049129808866, -5.15786491777678]
    assert fitted.params == pytest.approx(expected, rel=1e-5)
    errors = [1.17353320071252, 0.148924425308158, 1.10425629696798, 2.64527127308619]
    assert fitted.bse == pytest.approx(errors, rel=1e-5)
    assert fitted.llf == pytest.approx(-42.4187498909483, rel=1e-9)


def test_five_knots() -> None:
    knots = knots_of(URINE["osmo"], 5)
    assert knots == pytest.approx((251, 440.3, 594, 779.2, 956), rel=1e-9)
    expected = [
        [300, 0.236706403098436, 0, 0],
        [450, 15.8555384538001, 0.00183627181731304, 0],
        [600, 85.5259775665209, 8.19476519893367, 0.000434585785423293],
        [750, 249.990441124692, 59.76478783361, 7.63827976459939],
        [900, 535.848741075462, 185.109156135887, 50.3863621882327],
    ]
    assert basis([300, 450, 600, 750, 900], knots) == pytest.approx(np.array(expected), rel=1e-8, abs=1e-12)
