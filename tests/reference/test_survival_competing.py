"""Cumulative incidence, Gray's test and the Fine-Gray model against other programs.

Gammopathy: Kyle RA et al, N Engl J Med 2002;346:564-569 (survival::mgus2; 1 malignancy, 2 death before it, months).
Seroconverters: Geskus R et al, as given in Putter H, Fiocco M, Geskus RB, Stat Med
2007;26:2389-2430 (mstate::aidssi; 1 AIDS, 2 switch of phenotype, years; rows with the deletion known). Values: R 4.2.2
with survival 3.5.3 (survfit, infinitesimal jackknife) and cmprsk 2.2.11 (cuminc, crr), computed by others.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.estimators.survival.cox import cox
from analysis.estimators.survival.cumulative_incidence import cumulative_incidence, incidence_at
from analysis.estimators.survival.fine_gray import fine_gray
from analysis.estimators.survival.gray import gray
from analysis.estimators.survival.kaplan_meier import kaplan_meier, survival_at

DATA = Path(__file__).parent / "data"
GAMMOPATHY = pd.read_csv(DATA / "gammopathy.csv")
SEROCONVERTERS = pd.read_csv(DATA / "seroconverters.csv")

MONTHS, YEARS = (60, 120, 240), (4, 8, 12)
EXPECTED = [
    (
        "women", GAMMOPATHY[GAMMOPATHY["male"] == 0], MONTHS,
        [0.0397896215044053, 0.0738856643759262, 0.104940674186137],
        [0.263965145457701, 0.480490045774695, 0.695307803031983],
        [0.00779833408808593, 0.0107697973764881, 0.0142629574344966],
    ),
    (
        "men", GAMMOPATHY[GAMMOPATHY["male"] == 1], MONTHS,
        [0.0293462844583663, 0.0553102406481571, 0.0956507550309775],
        [0.367626985608863, 0.575178488879491, 0.748127889265735],
        [0.00616458366286076, 0.00864431655219645, 0.0135258309491872],
    ),
    (
        "without deletion", SEROCONVERTERS[SEROCONVERTERS["wm"] == 0], YEARS,
        [0.120375071337002, 0.302766882554965, 0.461688113497645],
        [0.114549567895734, 0.302355045761531, 0.361699789030755],
        [0.020619779230244, 0.0301929673525008, 0.0342320828203165],
    ),
    (
        "with deletion", SEROCONVERTERS[SEROCONVERTERS["wm"] == 1], YEARS,
        [0.0325560518947571, 0.0667535853976532, 0.19193915098333],
        [0.0980666519427286, 0.251575580111284, 0.379681426472202],
        [0.0226448447982781, 0.032274016369656, 0.0520887845983318],
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("frame", "times", "first", "second", "error"), [row[1:] for row in EXPECTED], ids=[str(row[0]) for row in EXPECTED]
)
def test_cumulative_incidence(
    frame: pd.DataFrame, times: tuple[int, ...], first: list[float], second: list[float], error: list[float]
) -> None:
    curve = cumulative_incidence(frame["time"], frame["ev"])
    one, two = (incidence_at(curve, cause, times) for cause in (1, 2))
    assert [at.estimate for at in one] == pytest.approx(first, rel=1e-10)
    assert [at.estimate for at in two] == pytest.approx(second, rel=1e-10)
    assert [at.standard_error for at in one] == pytest.approx(error, rel=1e-9)


def test_the_limits_are_those_of_the_logarithm_of_the_logarithm() -> None:
    """R's limits are made from cmprsk's error, which is larger by up to four thousandths: they lie as near."""
    frame = GAMMOPATHY[GAMMOPATHY["male"] == 0]
    found = incidence_at(cumulative_incidence(frame["time"], frame["ev"]), 1, MONTHS)
    low = [0.0264510346295948, 0.054610731367953, 0.0790032061556696]
    high = [0.0571694864015554, 0.0968708871883943, 0.135036725329842]
    assert [at.low for at in found] == pytest.approx(low, rel=2e-3)
    assert [at.high for at in found] == pytest.approx(high, rel=2e-3)


@pytest.mark.parametrize(
    ("frame", "expected", "last"),
    [
        (GAMMOPATHY[GAMMOPATHY["male"] == 0], [0.0468233643171637, 0.103010910965349, 0.190335740689794], MONTHS),
        (SEROCONVERTERS[SEROCONVERTERS["wm"] == 0], [0.132022872141605, 0.379571052187676, 0.651773779711049], YEARS),
    ],
)
def test_kaplan_meier_with_the_other_event_censored_over_states(
    frame: pd.DataFrame, expected: list[float], last: tuple[int, ...]
) -> None:
    naive = [1 - (at.survival or 0) for at in survival_at(kaplan_meier(frame["time"], frame["ev"] == 1), last)]
    assert naive == pytest.approx(expected, rel=1e-7)
    right = incidence_at(cumulative_incidence(frame["time"], frame["ev"]), 1, last)
    assert all(wrong > (at.estimate or 0) for wrong, at in zip(naive, right, strict=True))


@pytest.mark.parametrize(
    ("frame", "group", "cause", "statistic", "p"),
    [
        (GAMMOPATHY, "male", 1, 1.19450782507551, 0.274422156788004),
        (GAMMOPATHY, "male", 2, 11.6512590121277, 0.000641590976407924),
        (SEROCONVERTERS, "wm", 1, 13.191819907842, 0.00028117371576819),
        (SEROCONVERTERS, "wm", 2, 0.00392592802253749, 0.950039458802362),
    ],
)
def test_grays_test(frame: pd.DataFrame, group: str, cause: int, statistic: float, p: float) -> None:
    found = gray(frame["time"], frame["ev"], frame[group], of=cause)
    assert (found.statistic, found.p, found.df) == pytest.approx((statistic, p, 1), rel=1e-6)


def test_fine_gray_of_gammopathy_is_that_of_crr_with_its_error() -> None:
    x, names = GAMMOPATHY[["male", "age10"]].to_numpy(float), ["male", "age10"]
    fit = fine_gray(GAMMOPATHY["time"], GAMMOPATHY["ev"], x, names)
    assert fit.coefficients == pytest.approx([-0.260038237827954, -0.173381532193791], rel=1e-6)
    assert fit.standard_errors == pytest.approx([0.185681034794131, 0.0573710324167717], rel=1e-6)
    assert fit.log_likelihood == pytest.approx(-790.121315169541, rel=1e-9)


def test_fine_gray_of_seroconverters() -> None:
    fit = fine_gray(SEROCONVERTERS["time"], SEROCONVERTERS["ev"], SEROCONVERTERS[["wm"]].to_numpy(float), ["wm"])
    assert fit.coefficients == pytest.approx([-1.00535905617741], rel=1e-6)
    assert fit.standard_errors == pytest.approx([0.294767759708712], rel=1e-6)
    assert fit.log_likelihood == pytest.approx(-608.047602974001, rel=1e-9)


@pytest.mark.parametrize(
    ("frame", "names", "coefficients", "errors"),
    [
        (
            GAMMOPATHY, ["male", "age10"],
            [-0.0251377892665903, 0.130385698370914], [0.188455848192887, 0.0825868591210803],
        ),
        (SEROCONVERTERS, ["wm"], [-1.23812426283251], [0.306984354524262]),
    ],
)  # fmt: skip
def test_the_cause_specific_hazard_answers_another_question(
    frame: pd.DataFrame, names: list[str], coefficients: list[float], errors: list[float]
) -> None:
    fit = cox(frame["time"], np.asarray(frame["ev"]) == 1, frame[names].to_numpy(float), names)
    assert fit.coefficients == pytest.approx(coefficients, rel=1e-6)
    assert fit.standard_errors == pytest.approx(errors, rel=1e-6)
