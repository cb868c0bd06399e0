"""Weights, weighted differences and the doubly robust estimate against values computed by other programs."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from analysis.design.matrix import Design, design_of
from analysis.design.terms import Term
from analysis.estimators.confounding.balance import balance
from analysis.estimators.confounding.balance_weights import Kind, balance_weights
from analysis.estimators.confounding.doubly_robust import doubly_robust
from analysis.estimators.confounding.propensity import Propensity, propensity
from analysis.estimators.confounding.weighted_difference import weighted_difference

DATA = Path(__file__).parent / "data"
REL = 1e-5
# R 4.2.2 glm, lm; sandwich 3.0.2 vcovHC; survey 4.1.1 svyglm; numDeriv 2016.8.1.1; data lalonde of MatchIt 4.5.1.
# Of each kind of weights: mean1, mean0, difference, its HC0 error, effective size of the treated and of the others.
JOBS = {
    "coefficients": (-4.72864933870411, 0.0157770710175507, 0.161306877374262, 3.06536774097135, 0.983633620970063,
                     -0.832113275350087, 0.707296881383784, -7.17766864384507e-05, 5.34464470713428e-05),
    "first": (0.638769932959289, 0.224634241624861, 0.67824388006164, 0.776324081547346, 0.701638745067597),
    "ends": (0.00908019294577732, 0.853152845210587),
    "ate": (6647.51527023735, 6422.83896113341, 224.676309103939, 909.477674042136, 58.3266607397468, 329.007759063265),
    "att": (6349.14353027027, 5135.07230697735, 1214.07122329292, 824.051712118592, 185, 99.8153859157942),
    "overlap": (6694.72321908156, 5452.52258314163, 1242.20063593992, 775.097300882209, 145.635948366562,
                166.101429797098),
    "stabilised": (6647.51527023735, 6422.83896113341, 224.676309103941, 909.477674042136, 58.3266607397468,
                   329.007759063266),
    "cut": (6909.86988028599, 6422.93622469783, 486.933655588164, 804.243089444957, 86.0138293190867,
            329.011826555818),
    "stacked": (876.193191172164, -1492.63078909272, 1941.9834073006),
    "weights": (1169.63315443237, 40.0772938120701),
    "before": (-0.2419036229261, 0.0447550851108709, 1.66771881071852, -0.276939596506294, -0.719491962472904,
               0.23504820466515, -0.59575159100495, -0.287002108742533),
    "after ate": (-0.167567585782144, 0.129601791542724, 0.130007558085792, 0.0156109194244964, -0.209788506820372,
                  -0.115469172418203, -0.273989426048089, -0.157862697224778),
    "after att": (0.0929086797963962, -0.0231376647448, -0.00582332803805918, 0.000559617908358741,
                  0.0413712730692639, 0.0388771851437114, -0.00177037157960086, 0.0109078538213142),
    "doubly robust": (469.639973586303, 926.155079933717),
    "unnormalised": -449.786875383562,
}  # fmt: skip
# The same programs; data of Elmunzer BJ et al, N Engl J Med 2012;366:1414-1422 (medicaldata), trainee as exposure.
TRAINEES = {
    "coefficients": (-0.91057520459124, 5.09516828934022e-05, 0.169693538862679, 0.716558903270263, -0.347435223737088,
                     1.52979565562926),
    "first": (0.723108244749357, 0.687860709944318, 0.688221607676869, 0.723138848757858, 0.704256222045891),
    "ends": (0.268569865758933, 0.882522828347837),
    "ate": (0.146212441839261, 0.104486724529031, 0.0417257173102301, 0.0294699323332337, 244.273140684377,
            241.945010422912),
    "att": (0.169611307420495, 0.112567237717685, 0.0570440697028092, 0.0357633565523746, 283, 132.247710449997),
    "overlap": (0.140924353213717, 0.10478718952824, 0.0361371634854776, 0.0286944360375632, 233.572824917256,
                279.404317966339),
    "stabilised": (0.146212441839261, 0.104486724529031, 0.0417257173102302, 0.0294699323332336, 244.273140684377,
                   241.945010422912),
    "cut": (0.146259065778302, 0.104331165343153, 0.0419279004351484, 0.0292973543723946, 244.300389361138,
            247.556546863191),
    "stacked": (0.0289886161092568, -0.0150909262255708, 0.098542360846031),
    "weights": (1208.19229653193, 8.51229209842476),
    "before": (0.0625050022109705, -0.00291897320399476, 0.466710543790171, -0.329969957870661, 0.740233629192522),
    "after ate": (0.00411389040294197, -0.013809822340393, -0.0258074900019889, 0.00970190458651629,
                  -0.0196248721453031),
    "after att": (0.0273772019360259, -0.0511211774408543, -0.0608733550918831, -0.00822973344513435,
                  -0.0400498117682014),
    "doubly robust": (0.0428919622956263, 0.0292290033453265),
    "unnormalised": 0.0404515817629055,
}  # fmt: skip
Case = tuple[dict, Propensity, Design, np.ndarray]


def case(name: str) -> Case:
    if name == "jobs":
        data, of, outcome, expected = pd.read_csv(DATA / "job_training.csv"), "treat", "re78", JOBS
        columns = ("age", "educ", "black", "hispan", "married", "nodegree", "re74", "re75")
    else:
        data, of, outcome, expected = pd.read_csv(DATA / "pancreatitis_trial.csv"), "train", "outcome", TRAINEES
        columns = ("age", "risk", "difcan", "psphinc", "first_site")
    design = design_of(data, [Term(column=column) for column in columns], outcome=of)
    return expected, propensity(data[of], design.x, design.names), design, data[outcome].to_numpy(dtype=float)


@pytest.fixture(params=["jobs", "trainees"], scope="module")
def given(request: pytest.FixtureRequest) -> Case:
    return case(request.param)


def test_the_scores(given: Case) -> None:
    expected, score, _, _ = given
    assert score.fit.coefficients == pytest.approx(expected["coefficients"], rel=REL, abs=1e-7)
    assert score.scores[:5] == pytest.approx(expected["first"], rel=REL)
    assert (score.scores.min(), score.scores.max()) == pytest.approx(expected["ends"], rel=REL)


@pytest.mark.parametrize("kind", ["ate", "att", "overlap", "stabilised", "cut"])
def test_weighted_means_their_difference_and_effective_sizes(given: Case, kind: str) -> None:
    """Cut: at the 1 % and 99 % quantiles of all weights, type 7."""
    expected, score, _, y = given
    own: Kind = "ate" if kind == "cut" else kind  # type: ignore[assignment]
    weights = balance_weights(score, own, clip=(0.01, 0.99) if kind == "cut" else None)
    found = weighted_difference(y, score, weights)
    known = (*found.contrasts.means, found.contrasts.difference.estimate, found.error_scores_known, *found.effective)
    assert known == pytest.approx(expected[kind], rel=REL)


def test_the_error_that_knows_the_score_was_estimated(given: Case) -> None:
    expected, score, _, y = given
    weights = balance_weights(score, "ate")
    found = weighted_difference(y, score, weights)
    difference = found.contrasts.difference
    assert (difference.standard_error, difference.low, difference.high) == pytest.approx(expected["stacked"], rel=REL)
    assert (weights.total, weights.largest) == pytest.approx(expected["weights"], rel=REL)
    assert found.unnormalised == pytest.approx(expected["unnormalised"], rel=REL)


def test_balance_before_and_after(given: Case) -> None:
    expected, score, design, _ = given
    for kind in ("ate", "att", "overlap"):
        weights = balance_weights(score, kind)
        found = balance(design.x[:, 1:], design.names[1:], score.index, weights.values)
        assert [each.before for each in found] == pytest.approx(list(expected["before"]), rel=REL)
        after = expected.get(f"after {kind}", [0.0] * len(found))  # overlap weights balance the columns wholly
        assert [each.after for each in found] == pytest.approx(list(after), rel=REL, abs=1e-7)


def test_the_doubly_robust_estimate(given: Case) -> None:
    expected, score, design, y = given
    found = doubly_robust(y, score, design.names).contrasts.difference
    assert (found.estimate, found.standard_error) == pytest.approx(expected["doubly robust"], rel=REL)


def test_ratios_of_the_weighted_means() -> None:
    _, score, _, y = case("trainees")
    found = weighted_difference(y, score, balance_weights(score, "ate")).contrasts
    assert (found.ratio.estimate, found.odds_ratio.estimate) == pytest.approx(
        (1.39933989220455, 1.46772746731614), rel=REL
    )
    _, score, _, y = case("jobs")
    none = weighted_difference(y, score, balance_weights(score, "ate")).contrasts.ratio
    assert (none.estimate, none.reason) == (None, "the outcome is not yes or no")
