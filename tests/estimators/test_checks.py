"""The checks of a model: what they find when it is put there, what they say when they cannot, and their laws."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.design.matrix import Design, design_of
from analysis.design.terms import Term
from analysis.estimators.discrimination import auc
from analysis.estimators.regression.checks.clustered_area import clustered_area
from analysis.estimators.regression.checks.collinearity import variance_inflation
from analysis.estimators.regression.checks.curve import calibration_curve
from analysis.estimators.regression.checks.influence import influence
from analysis.estimators.regression.checks.model_checks import ModelChecks, model_checks
from analysis.estimators.regression.checks.optimism import optimism
from analysis.estimators.regression.checks.overdispersion import within_clusters
from analysis.estimators.regression.checks.table import check_rows
from analysis.estimators.regression.checks.weighted_fit import weighted_logistic
from analysis.estimators.regression.firth import firth
from analysis.estimators.regression.fitted import effects
from analysis.estimators.regression.logistic import logistic
from analysis.estimators.regression.marginal import estimating_equations

UNHURRIED = settings(deadline=None)  # the first call loads a library
NAMES = ("intercept", "a", "b")


def drawn(seed: int, n: int = 300, shared: float = 0.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Outcome, columns and clusters of three rows; `shared`: standard deviation of the clusters' own log odds."""
    draw = np.random.default_rng(seed)
    cluster = np.arange(n) // 3
    x = np.column_stack([np.ones(n), draw.normal(size=n), draw.integers(0, 2, n)])
    along = -0.3 + 0.7 * x[:, 1] + 0.4 * x[:, 2] + shared * draw.normal(size=n)[cluster]
    return (draw.random(n) < 1 / (1 + np.exp(-along))).astype(float), x, cluster


@pytest.mark.parametrize("penalised", [False, True])
def test_optimism_is_the_same_whoever_works_and_in_whatever_order(penalised: bool) -> None:
    y, x, cluster = drawn(1, 120)
    asked = {"replicates": 20, "seed": 5, "penalised": penalised}
    one = optimism(y, x, cluster=cluster, **asked)
    two = optimism(y, x, cluster=cluster, workers=2, **asked)
    assert two.optimism_of_area == pytest.approx(one.optimism_of_area, rel=1e-9, abs=1e-12)
    assert two.slope.corrected == pytest.approx(one.slope.corrected, rel=1e-9)
    order = np.random.default_rng(2).permutation(120)
    moved = optimism(y[order], x[order], cluster=1000 - cluster[order], **asked)
    assert moved.area.corrected == pytest.approx(one.area.corrected, rel=1e-9)
    other = optimism(y, x, cluster=cluster, **{**asked, "seed": 6})
    assert other.area.corrected != one.area.corrected
    assert (one.clusters, one.n, one.seed, one.replicates) == (40, 120, 5, 20)


def test_whole_clusters_are_drawn() -> None:
    """Rows said twice, as clusters of two, give what the rows alone give."""
    y, x, _ = drawn(3, 100)
    twice = np.repeat(np.arange(100), 2)
    weights = np.random.default_rng(4).multinomial(100, np.full(100, 0.01), size=30)
    alone = optimism(y, x, weights=weights)
    doubled = optimism(y[twice], x[twice], cluster=twice, weights=np.repeat(weights, 2, axis=1))
    assert doubled.area.corrected == pytest.approx(alone.area.corrected)
    assert doubled.clusters == 100
    unaware = optimism(y[twice], x[twice], replicates=100, seed=1)
    aware = optimism(y[twice], x[twice], cluster=twice, replicates=100, seed=1)
    assert aware.area.optimism > 1.3 * unaware.area.optimism


def test_more_columns_that_say_nothing_are_more_optimistic() -> None:
    y, x, _ = drawn(5, 150)
    noise = np.column_stack([x, np.random.default_rng(6).normal(size=(150, 8))])
    few, many = (optimism(y, columns, replicates=60) for columns in (x, noise))
    assert many.area.apparent > few.area.apparent
    assert many.area.optimism > few.area.optimism + 0.01
    assert many.slope.corrected < few.slope.corrected < 1
    assert many.brier.corrected > many.brier.apparent


def test_separated_resamples_are_fitted_by_the_penalised_likelihood_and_counted() -> None:
    y, x, _ = drawn(7, 90)
    rare = np.zeros(90)
    rare[[*np.flatnonzero(y == 1)[:3], *np.flatnonzero(y == 0)[:3]]] = 1  # three of each: some resamples lack one kind
    found = optimism(y, np.column_stack([x, rare]), replicates=60)
    assert found.penalised > 3 and found.lost <= 3 and found.area.corrected is not None
    assert optimism(y, x, replicates=60).penalised == 0
    whole = optimism(y, np.column_stack([x, rare]), replicates=20, penalised=True)
    assert (whole.lost, whole.penalised) == (0, 0) and whole.area.corrected is not None


def test_resamples_of_one_outcome_are_lost_and_too_many_refuse_the_correction() -> None:
    draw = np.random.default_rng(3)
    y = np.array([1.0, 1.0, *np.zeros(58)])
    x = np.column_stack([np.ones(60), draw.normal(size=60)])  # one resample in eight holds neither of the two
    found = optimism(y, x, replicates=80)
    assert found.lost > 4 and found.area.corrected is None and found.area.apparent is not None
    assert found.reason.startswith(f"{found.lost} of 80 resamples have no fit")


@pytest.mark.parametrize("asked", [{"replicates": 0}, {"workers": 0}])
def test_resampling_needs_a_replicate_and_a_worker(asked: dict[str, int]) -> None:
    y, x, _ = drawn(8, 60)
    with pytest.raises(ValueError, match="At least one replicate and one worker"):
        optimism(y, x, **asked)
    with pytest.raises(ValueError, match="lengths differ"):
        optimism(y, x, cluster=np.arange(59))


@given(st.integers(0, 10_000))
@UNHURRIED
def test_a_weighted_fit_is_that_of_the_rows_repeated(seed: int) -> None:
    y, x, _ = drawn(seed, 150)
    weight = np.random.default_rng(seed).multinomial(150, np.full(150, 1 / 150)).astype(float)
    rows = np.repeat(np.arange(150), weight.astype(int))
    whole = logistic(y[rows], x[rows], NAMES, events_per_parameter=0)
    assert weighted_logistic(y, x, weight) == pytest.approx(whole.coefficients, rel=1e-6, abs=1e-8)


def test_a_separated_weighted_fit_is_none() -> None:
    y = np.repeat([0.0, 1.0], 20)
    assert weighted_logistic(y, np.column_stack([np.ones(40), np.arange(40.0)]), np.ones(40)) is None
    assert weighted_logistic(np.ones(40), np.ones((40, 1)), np.ones(40)) is None


def test_the_patient_who_moves_the_model_is_found_and_left_out() -> None:
    y, x, cluster = drawn(9)
    x[cluster == 17, 1], y[cluster == 17] = 4.0, 0.0
    fit = logistic(y, x, NAMES, cluster=cluster)

    def refit(kept: np.ndarray):  # type: ignore[no-untyped-def]
        return logistic(y[kept], x[kept], NAMES, cluster=cluster[kept])

    found = influence(fit, y, x, cluster=cluster, exposure=[1], refit=refit)
    assert (found.left_out, found.most[0].cluster, found.most[0].rows) == ("17", "17", 3)
    assert found.without[0].estimate == effects(refit(cluster != 17))[1].estimate
    assert found.without[0].estimate > found.with_all[0].estimate
    # One step foretells most of the way.
    step = found.largest_dfbeta.dfbeta * fit.standard_errors[1]
    assert fit.coefficients[1] - step == pytest.approx(np.log(found.without[0].estimate), abs=0.05)
    assert sum(each.leverage for each in influence(fit, y, x, cluster=cluster, shown=100).most) == pytest.approx(3)


def test_a_cluster_that_alone_carries_a_level_leaves_no_estimate_without_it() -> None:
    y, x, cluster = drawn(10)
    level = (cluster == 30).astype(float)
    y[cluster == 30] = [0, 1, 1]
    columns = np.column_stack([x, level])
    names = (*NAMES, "level")
    fit = logistic(y, columns, names, cluster=cluster)
    found = influence(
        fit,
        y,
        columns,
        cluster=cluster,
        exposure=[3],
        refit=lambda kept: logistic(y[kept], columns[kept], names, cluster=cluster[kept]),
    )
    assert found.left_out == "30" and found.most[0].cook == np.inf
    assert found.without == () and found.reason.startswith("without this cluster the model has no estimate")


@given(st.integers(0, 10_000))
@UNHURRIED
def test_inflation_does_not_depend_on_how_a_term_is_coded(seed: int) -> None:
    draw = np.random.default_rng(seed)
    x = np.column_stack([np.ones(80), draw.normal(size=(80, 4))])
    x[:, 3] += x[:, 1]
    turn = draw.normal(size=(2, 2)) + 3 * np.eye(2)
    moved = x.copy()
    moved[:, 3:] = x[:, 3:] @ turn + 5
    terms = {"a": [1], "b": [2], "both": [3, 4]}
    weight = draw.random(80)
    for one, other in zip(
        variance_inflation(x, terms, weight=weight), variance_inflation(moved, terms, weight=weight), strict=True
    ):
        assert other.factor == pytest.approx(one.factor, rel=1e-6)
        assert one.factor >= 1 - 1e-9 and one.root == pytest.approx(one.factor ** (1 / (2 * one.columns)))


def test_inflation_of_columns_that_say_nearly_the_same_is_marked() -> None:
    draw = np.random.default_rng(11)
    a = draw.normal(size=200)
    x = np.column_stack([np.ones(200), a, a + 0.05 * draw.normal(size=200), draw.normal(size=200)])
    found = variance_inflation(x, {"a": [1], "near a": [2], "c": [3]})
    assert [each.marked for each in found] == [True, True, False]
    assert [each.root for each in variance_inflation(x[:, :2], {"a": [1]})] == pytest.approx([1])
    x[:, 2] = x[:, 1]
    assert variance_inflation(x, {"a": [1], "same": [2], "c": [3]})[0].reason is not None


def test_likeness_within_clusters_is_found_where_it_is_and_not_where_it_is_not() -> None:
    ps = []
    for seed in range(60):
        y, x, cluster = drawn(seed, 600)
        ps.append(within_clusters(logistic(y, x, NAMES), y, x, cluster).p)
    assert np.mean(np.array(ps) < 0.05) < 0.15
    y, x, cluster = drawn(61, 900, shared=1.5)
    found = within_clusters(logistic(y, x, NAMES), y, x, cluster, places=[0])
    assert found.p < 1e-4 and 0.1 < found.correlation < 0.5 and found.ratio > 1.2 and found.design_effects[0] > 1.1
    assert found.pairs == 900


def test_rows_that_stand_alone_cannot_be_overdispersed() -> None:
    y, x, _ = drawn(12)
    found = within_clusters(logistic(y, x, NAMES), y, x, np.arange(300))
    assert found.p is None and found.reason.startswith("no cluster has two rows")


@given(st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_an_area_of_rows_alone_has_delong_s_error(seed: int) -> None:
    draw = np.random.default_rng(seed)
    y, score = draw.integers(0, 2, 80), np.round(draw.normal(size=80), 1)
    y[:2], y[2:4] = 1, 0
    ours, theirs = clustered_area(y, score, np.arange(80)), auc(y, score)
    assert ours.estimate == pytest.approx(theirs.estimate)
    assert ours.standard_error == pytest.approx(theirs.standard_error, rel=0.03)
    twice = np.repeat(np.arange(80), 2)
    doubled = clustered_area(y[twice], score[twice], twice)
    assert doubled.standard_error == pytest.approx(ours.standard_error)


def test_an_area_without_error_says_why() -> None:
    assert clustered_area([1, 1], [0.1, 0.2], [1, 2]).reason == "one of the two outcomes does not occur"
    assert clustered_area([1, 0, 1, 0], [4, 3, 2, 1], [1, 1, 1, 1]).reason.startswith("fewer than two clusters")
    assert clustered_area([1, 1, 0, 0], [4, 3, 2, 1], [1, 2, 3, 4]).reason.startswith("every pair")


def test_the_curve_of_a_right_model_lies_near_the_predictions_and_of_a_wrong_one_does_not() -> None:
    draw = np.random.default_rng(13)
    p = draw.random(5000)
    y = draw.random(5000) < p
    right, wrong = calibration_curve(y, p), calibration_curve(y, p**2)
    assert right.mean_gap < 0.02 < 0.1 < wrong.mean_gap
    assert (min(right.predicted), max(right.predicted)) == (p.min(), p.max())
    assert all(0 <= value <= 1 for value in right.observed) and sum(each.n for each in right.groups) == 5000
    few = calibration_curve(y, np.round(p * 4) / 4)
    assert few.predicted == () and few.reason.startswith("5 different predictions")


@lru_cache
def whole() -> tuple[Design, ModelChecks, np.ndarray, pd.DataFrame]:
    y, x, cluster = drawn(14, 300, shared=0.5)
    frame = pd.DataFrame({"a": x[:, 1], "b": np.where(x[:, 2] > 0, "yes", "no"), "y": y, "who": cluster})
    made = design_of(frame, [Term(column="a", shape="spline"), Term(column="b", shape="levels")], outcome="y")
    fit = logistic(y, made.x, made.names, cluster=cluster)
    return made, model_checks(fit, made, y, cluster=cluster, exposure="a", replicates=30), cluster, frame


def test_all_checks_of_a_model_in_one_table() -> None:
    _, checks, _, _ = whole()
    rows = check_rows(checks)
    chapters = ["discrimination", "calibration", "influence", "collinearity", "overdispersion"]
    assert list(dict.fromkeys(row.check for row in rows)) == chapters
    assert rows[0].estimate == checks.discrimination.estimate
    assert rows[1].estimate == checks.optimism.area.corrected
    assert (rows[0].low, rows[0].high) == (checks.discrimination_clustered.low, checks.discrimination_clustered.high)
    moved = [row.measure for row in rows if "without cluster" in row.measure]
    assert [measure.split(" (")[0] for measure in moved] == ["a", "a, curve 1", "a, curve 2"]
    assert all(row.reading for row in rows)
    assert len(checks.influence.without) == 3 and [each.term for each in checks.collinearity] == ["a", "b"]


def test_checks_without_clusters_or_an_exposure() -> None:
    made, _, _, frame = whole()
    fit = logistic(frame["y"], made.x, made.names)
    checks = model_checks(fit, made, frame["y"], replicates=10)
    assert checks.overdispersion is None and checks.discrimination_clustered is None
    assert checks.influence.clusters == 300 and checks.influence.without == ()
    said = [row.reading for row in check_rows(checks) if row.check == "overdispersion"]
    assert said == ["no clusters are named, and yes/no outcomes of independent rows cannot be overdispersed"]


def test_a_penalised_model_is_refitted_penalised_and_another_kind_is_remarked_on() -> None:
    made, _, cluster, frame = whole()
    y = frame["y"].to_numpy()
    penalised = model_checks(firth(y, made.x, made.names), made, y, exposure="b", replicates=5)
    assert penalised.remarks == () and penalised.optimism.slope.apparent > 1
    other = estimating_equations(y, made.x, made.names, cluster)
    checks = model_checks(other, made, y, cluster=cluster, exposure="b", replicates=5)
    assert "resamples are fitted by plain logistic regression" in checks.remarks[0]


def test_checks_refuse_rows_of_another_design_and_terms_it_lacks() -> None:
    made, _, _, frame = whole()
    fit = logistic(frame["y"], made.x, made.names)
    with pytest.raises(ValueError, match="outcome has 299 entries, the design 300 rows"):
        model_checks(fit, made, frame["y"][1:])
    with pytest.raises(ValueError, match="The design has no term 'c'; it has a, b"):
        model_checks(fit, made, frame["y"], exposure="c")
