"""The Cox model, its clustered errors and the test of proportional hazards against another program.

Catheter pairs: McGilchrist CA, Aisbett CW, Biometrics 1991;47:461-466 (survival::kidney; two infections a patient).
Lung cancer: Kalbfleisch JD, Prentice RL, The Statistical Analysis of Failure Time Data, Wiley 1980 (survival::veteran).
Values: R 4.2.2 with survival 3.5.3 (coxph, Efron's ties; cox.zph, terms = FALSE), computed by others.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.regression.fitted import Fitted
from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.proportional_hazards_test import GLOBAL, Transform, proportional_hazards

DATA = Path(__file__).parent / "data"
PAIRS = pd.read_csv(DATA / "kidney_catheter_pairs.csv").assign(female=lambda frame: (frame["sex"] == 2).astype(float))
LUNG = pd.read_csv(DATA / "veteran.csv")
TWO, THREE = ["age", "female"], ["trt", "karno", "age"]


def pairs(**more: object) -> Fitted:
    return cox(PAIRS["time"], PAIRS["status"], PAIRS[TWO].to_numpy(float), TWO, **more)  # type: ignore[arg-type]


def lung() -> Fitted:
    return cox(LUNG["time"], LUNG["status"], LUNG[THREE].to_numpy(float), THREE)


def test_pairs() -> None:
    fit = pairs()
    assert fit.coefficients == pytest.approx([0.00203188295715038, -0.82931383246605], rel=1e-6)
    assert fit.standard_errors == pytest.approx([0.00924638901043198, 0.298954902356475], rel=1e-6)
    assert fit.log_likelihood == pytest.approx(-184.344568139567, rel=1e-9)
    assert fit.extra["log_likelihood_alone"] == pytest.approx(-187.902761588864, rel=1e-9)
    assert fit.extra["likelihood_ratio"] == pytest.approx(7.11638689859421, rel=1e-6)
    assert fit.extra["score"] == pytest.approx(8.4450290647212, rel=1e-6)
    assert fit.extra["concordance"] == pytest.approx(0.662182741116751, rel=1e-9)


def test_errors_in_clusters_of_patients() -> None:
    fit = pairs(cluster=PAIRS["id"], correction="CR0")
    assert fit.standard_errors == pytest.approx([0.00808874704274986, 0.483463782851634], rel=1e-6)
    wald = fit.coefficients @ np.linalg.solve(fit.extra["covariance_of_model"], fit.coefficients)
    robust = fit.coefficients @ np.linalg.solve(fit.covariance, fit.coefficients)
    assert robust == pytest.approx(2.98825028776344, rel=1e-6)  # R's Wald statistic of the clustered fit
    assert wald > robust
    assert fit.clusters == 38


def test_lung() -> None:
    fit = lung()
    expected = [0.189546441923378, -0.0344438968387491, -0.00386441787397458]
    assert fit.coefficients == pytest.approx(expected, rel=1e-6)
    assert fit.standard_errors == pytest.approx([0.185530665023059, 0.00523241490055477, 0.00918738465815066], rel=1e-6)
    assert (fit.log_likelihood, fit.extra["log_likelihood_alone"]) == pytest.approx(
        (-483.87798003783, -505.449054918058), rel=1e-9
    )
    assert fit.extra["likelihood_ratio"] == pytest.approx(43.142149760456, rel=1e-6)
    assert fit.extra["score"] == pytest.approx(46.8358780341288, rel=1e-6)
    assert fit.extra["concordance"] == pytest.approx(0.711949114039073, rel=1e-9)


OF_PAIRS: dict[Transform, dict[str, tuple[float, float]]] = {
    "km": {
        "age": (0.106323426352421, 0.744369327467289),
        "female": (11.1001465735006, 0.000863208967494774),
        GLOBAL: (12.2183384340992, 0.00222239637507879),
    },
    "rank": {
        "age": (0.149040034176168, 0.699454429019865),
        "female": (10.7608921491059, 0.00103667399100845),
        GLOBAL: (11.6922771966145, 0.00289104110349135),
    },
    "identity": {
        "age": (0.229108008958711, 0.632186016546421),
        "female": (10.367924199391, 0.00128223638735881),
        GLOBAL: (11.3986319513558, 0.00334825496217419),
    },
    "log": {
        "age": (0.00904701942178921, 0.924222831636828),
        "female": (11.0666257763824, 0.000878954870322486),
        GLOBAL: (11.6134606216637, 0.00300724677700637),
    },
}
OF_LUNG: dict[Transform, dict[str, tuple[float, float]]] = {
    "km": {
        "trt": (0.283546926469633, 0.594385803621747),
        "karno": (12.0029574497575, 0.000531161933217293),
        "age": (2.09951762451289, 0.14734561729991),
        GLOBAL: (19.1016647862537, 0.000260479449458198),
    },
    "rank": {
        "trt": (0.278016902529006, 0.598003964572652),
        "karno": (12.6404069738448, 0.000377497789140211),
        "age": (2.0414347541503, 0.153065215358185),
        GLOBAL: (19.7496539677608, 0.000191274856419614),
    },
    "identity": {
        "trt": (1.11380318627293, 0.291256711964958),
        "karno": (4.65453349555965, 0.0309716473982868),
        "age": (0.972445081358008, 0.324071138813419),
        GLOBAL: (10.1891433846743, 0.0170249143152685),
    },
    "log": {
        "trt": (0.163108503712151, 0.686310569769168),
        "karno": (9.57038741199535, 0.00197741049310577),
        "age": (3.4885099336257, 0.0617961839217576),
        GLOBAL: (16.9322360650042, 0.000729787166529049),
    },
}


@pytest.mark.parametrize("transform", OF_PAIRS)
def test_proportional_hazards_of_pairs(transform: Transform) -> None:
    x = PAIRS[TWO].to_numpy(float)
    found = proportional_hazards(pairs(), PAIRS["time"], PAIRS["status"], x, transform=transform)
    assert {one.label: (one.statistic, one.p) for one in found} == {
        label: pytest.approx(value, rel=1e-6) for label, value in OF_PAIRS[transform].items()
    }


@pytest.mark.parametrize("transform", OF_LUNG)
def test_proportional_hazards_of_lung(transform: Transform) -> None:
    found = proportional_hazards(
        lung(), LUNG["time"], LUNG["status"], LUNG[THREE].to_numpy(float), transform=transform
    )  # fmt: skip
    assert {one.label: (one.statistic, one.p) for one in found} == {
        label: pytest.approx(value, rel=1e-6) for label, value in OF_LUNG[transform].items()
    }
