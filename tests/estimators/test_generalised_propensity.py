"""Weights for an exposure of few values: the two-group case again, laws, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.confounding.balance_across import balance_across
from analysis.estimators.confounding.balance_weights import balance_weights
from analysis.estimators.confounding.generalised_propensity import _ordinal, generalised_propensity
from analysis.estimators.confounding.propensity import propensity
from analysis.estimators.confounding.weighted_difference import weighted_difference
from analysis.estimators.confounding.weighted_outcome import weighted_means, weighted_outcome
from analysis.estimators.ordered_logit import class_chances, fit_ordered_logit
from analysis.estimators.regression.fitted import NotEstimable, effect

NAMES = ("intercept", "burden", "sex")
RATIOS = np.array([0.75, 0.80, 0.87, 0.95])


def drawn(seed: int, rows: int = 2000) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tighter fits for larger burdens; the outcome depends on both."""
    draw = np.random.default_rng(seed)
    x = np.column_stack([np.ones(rows), draw.normal(size=rows), draw.integers(0, 2, rows)])
    cuts = np.array([-1.0, 0.3, 1.5])
    code = (draw.logistic(size=rows) + 0.8 * x[:, 1] + 0.3 * x[:, 2] > cuts[:, None]).sum(axis=0)
    ratio = RATIOS[code]
    y = (draw.random(rows) < 1 / (1 + np.exp(-(0.3 - x[:, 1] + 5 * (ratio - 0.8))))).astype(float)
    return ratio, x, y


def test_with_two_values_it_is_the_weighted_comparison_of_two_groups() -> None:
    ratio, x, y = drawn(1, 4000)
    of = (ratio > 0.8).astype(float)
    two = propensity(of, x, NAMES)
    weights = balance_weights(two, "stabilised")
    score = generalised_propensity(of, x, NAMES)
    assert score.weights == pytest.approx(weights.values, rel=1e-6)
    assert [each.effective for each in score.reached] == pytest.approx(list(weights.effective[::-1]), rel=1e-6)
    pair = weighted_difference(y, two, weights).contrasts
    # As a number, not as yes or no: the slope of the line through two points is their difference.
    line = weighted_outcome(y * 2.0, score, per=1)
    assert line.coefficients[1] / 2 == pytest.approx(pair.difference.estimate, rel=1e-6)
    assert line.standard_errors[1] / 2 == pytest.approx(pair.difference.standard_error, rel=0.03)
    odds = weighted_outcome(y, score, per=1)
    assert effect(odds, [0, 1], "").estimate == pytest.approx(pair.odds_ratio.estimate, rel=1e-6)
    assert odds.standard_errors[1] == pytest.approx(pair.odds_ratio.standard_error, rel=0.03)
    assert weighted_means(y, score) == pytest.approx(pair.means[::-1], rel=1e-6)


@pytest.mark.parametrize("model", ["multinomial", "ordinal"])
def test_weights_balance_what_was_unequal(model: str) -> None:
    ratio, x, _ = drawn(2, 4000)
    score = generalised_propensity(ratio, x, NAMES, model=model)  # type: ignore[arg-type]
    burden, sex = balance_across(x[:, 1:], NAMES[1:], score)
    assert burden.before > 1 and burden.before_between == (0.75, 0.95)  # type: ignore[operator]
    assert burden.after < 0.25 and sex.after < 0.15  # type: ignore[operator]
    assert score.weights.mean() == pytest.approx(1, abs=0.05)
    assert score.chances.sum(axis=1) == pytest.approx(np.ones(4000))
    assert all(each.effective < each.n for each in score.reached)
    assert sum(each.n for each in score.reached) == 4000
    # Scores of a maximum sum to nothing.
    assert score.scores.mean(axis=0) == pytest.approx(np.zeros(score.scores.shape[1]), abs=1e-5)


def test_the_scores_of_the_ordinal_model_are_the_derivatives_of_its_log_chances() -> None:
    ratio, x, _ = drawn(3, 400)
    code = np.unique(ratio, return_inverse=True)[1]
    columns = (x[:, 1:] - x[:, 1:].mean(axis=0)) / x[:, 1:].std(axis=0)
    fit = fit_ordered_logit(code, code, columns, 4, prior_sd=np.inf, prior_rows=0.0)
    made = _ordinal(code, 4, x)
    assert made is not None
    parameters, step = np.concatenate([fit.cuts, fit.slopes]), 1e-6
    for at in range(5):
        ends = []
        for sign in (-1, 1):
            moved = parameters + sign * step * (np.arange(5) == at)
            ends.append(np.log(class_chances(moved[:3], moved[3:], columns)[np.arange(400), code]))
        assert made[1][:, at] == pytest.approx((ends[1] - ends[0]) / (2 * step), abs=1e-6)


@pytest.mark.parametrize("model", ["multinomial", "ordinal"])
def test_the_error_is_that_of_refitted_resamples(model: str) -> None:
    ratio, x, y = drawn(4, 800)
    found = weighted_outcome(y, generalised_propensity(ratio, x, NAMES, model=model))  # type: ignore[arg-type]
    draw, slopes = np.random.default_rng(1), []
    for _ in range(150):
        rows = draw.integers(0, 800, 800)
        again = generalised_propensity(ratio[rows], x[rows], NAMES, model=model)  # type: ignore[arg-type]
        slopes.append(weighted_outcome(y[rows], again).coefficients[1])
    assert found.standard_errors[1] == pytest.approx(np.std(slopes, ddof=1), rel=0.2)
    assert found.extra["error_weights_known"] > found.standard_errors[1]


def test_per_so_much_and_clusters() -> None:
    ratio, x, y = drawn(5)
    score = generalised_propensity(ratio, x, NAMES, clip=(0.01, 0.99))
    tenth, unit = (weighted_outcome(y, score, per=per, label="ratio") for per in (0.1, 1.0))
    assert unit.coefficients[1] == pytest.approx(10 * tenth.coefficients[1])
    assert unit.coefficients[0] == pytest.approx(tenth.coefficients[0])
    assert unit.standard_errors == pytest.approx(tenth.standard_errors * [1, 10])
    assert tenth.names == ("intercept", "ratio, per 0.1")
    each = weighted_outcome(y, score, cluster=np.arange(2000))
    assert each.standard_errors == pytest.approx(tenth.standard_errors * np.sqrt(2000 / 1999))
    assert (each.clusters, score.cut_rows) == (2000, 40)
    with pytest.raises(NotEstimable, match="one cluster"):
        weighted_outcome(y, score, cluster=np.zeros(2000))


def test_many_values_rare_values_and_one_value_are_refused_and_their_neighbours_run() -> None:
    _, x, _ = drawn(6)
    many = 0.7 + (np.arange(2000) % 13) / 100
    with pytest.raises(NotEstimable, match="13 distinct values, and the chance of each is modelled up to 12"):
        generalised_propensity(many, x, NAMES)
    assert len(generalised_propensity(0.7 + (np.arange(2000) % 12) / 100, x, NAMES).values) == 12
    rare = np.where(np.arange(2000) < 9, 1.0, np.where(np.arange(2000) % 2, 0.75, 0.8))
    with pytest.raises(NotEstimable, match=r"fewer than 10 rows: 1 \(9\)"):
        generalised_propensity(rare, x, NAMES)
    rare[9] = 1.0
    assert generalised_propensity(rare, x[:, [0, 2]], ("intercept", "sex")).reached[-1].n == 10
    with pytest.raises(NotEstimable, match=r"it is 0\.8 in all rows"):
        generalised_propensity(np.full(2000, 0.8), x, NAMES)
    with pytest.raises(NotEstimable, match="there is no row"):
        generalised_propensity(np.zeros(0), np.zeros((0, 3)), NAMES)


@pytest.mark.parametrize("model", ["multinomial", "ordinal"])
def test_a_value_that_only_one_sex_has_is_refused_by_name(model: str) -> None:
    ratio, x, _ = drawn(7)
    ratio = np.where((x[:, 2] == 1) & (ratio == 0.95), 0.75, ratio)
    with pytest.raises(NotEstimable, match=r"no overlap: sex tells without fail whether the exposure is 0\.95"):
        generalised_propensity(ratio, x, NAMES, model=model)  # type: ignore[arg-type]


def test_a_value_that_few_others_could_have_had_is_refused() -> None:
    draw = np.random.default_rng(8)
    size = draw.normal(size=1500)
    ratio = np.where(size + 0.15 * draw.normal(size=1500) > 1, 0.95, np.where(draw.random(1500) < 0.5, 0.75, 0.8))
    with pytest.raises(NotEstimable, match=r"less likely to have 0\.95 than anybody who had it|are worth"):
        generalised_propensity(ratio, np.column_stack([np.ones(1500), size]), ("intercept", "size"))


def test_what_is_asked_wrongly_is_refused() -> None:
    ratio, x, y = drawn(9)
    score = generalised_propensity(ratio, x, NAMES)
    with pytest.raises(ValueError, match="no model"):
        generalised_propensity(ratio, x, NAMES, model="normal")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="none missing"):
        generalised_propensity(np.where(ratio > 0.9, np.nan, ratio), x, NAMES)
    with pytest.raises(ValueError, match="rise within"):
        generalised_propensity(ratio, x, NAMES, clip=(0.9, 0.1))
    with pytest.raises(ValueError, match="above 0"):
        weighted_outcome(y, score, per=0)
    with pytest.raises(NotEstimable, match="same outcome"):
        weighted_outcome(np.ones(2000), score)
    with pytest.raises(NotEstimable, match="separated by the exposure"):
        weighted_outcome((ratio > 0.8).astype(float), score)
