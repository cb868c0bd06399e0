"""Weights by the inverse of the chance of being observed: by hand, against another library, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analysis.estimators.observation_model import fitted_model, refitted_chances, standard_design
from analysis.estimators.weighting import several_weighted_proportions, weighted_proportion, weighted_proportions

# Two levels, worked by hand: of 20 small 10 are seen, 4 of them events; of 20 large 15 are seen, 12 of them events.
SMALL = {"seen": 10, "of": 20, "events": 4}
LARGE = {"seen": 15, "of": 20, "events": 12}


def rows(*levels: dict[str, int], one: tuple[int, int] = (0, 0)) -> dict[str, Any]:
    """Levels as rows, and of `one` rows of weight one: events, and others."""
    outcome: list[float] = []
    observed: list[bool] = []
    level: list[int] = []
    for place, each in enumerate(levels):
        outcome += [1.0] * each["events"] + [0.0] * (each["seen"] - each["events"])
        outcome += [np.nan] * (each["of"] - each["seen"])
        observed += [True] * each["seen"] + [False] * (each["of"] - each["seen"])
        level += [place] * each["of"]
    outcome += [1.0] * one[0] + [0.0] * one[1]
    fixed = [False] * len(level) + [True] * sum(one)
    observed += [False] * sum(one)
    level += [0] * sum(one)
    return {
        "outcome": outcome,
        "observed": observed,
        "weight_one": fixed,
        "covariates": np.array(level, dtype=float)[:, None],
        "names": ["large"],
        "cluster": np.arange(len(level)),
    }


def test_a_level_weighs_by_the_inverse_of_its_share_observed():
    made = weighted_proportion(**rows(SMALL, LARGE), replicates=0)
    # Saturated model: weights 2 and 4/3, so half of 4/10 and half of 12/15.
    assert made.estimate == pytest.approx((4 / 10 + 12 / 15) / 2)
    assert (made.n, made.unobserved, made.low, made.reason) == (25, 15, None, None)
    assert made.n_effective == pytest.approx(40**2 / (10 * 2**2 + 15 * (4 / 3) ** 2))
    assert made.largest_weight == pytest.approx(2)


def test_those_known_without_weigh_one_and_are_in_no_model():
    made = weighted_proportion(**rows(SMALL, LARGE, one=(0, 10)), replicates=0)
    assert made.estimate == pytest.approx(40 * 0.6 / 50)
    assert made.n == 35


def test_everybody_observed_gives_the_plain_share_and_no_model():
    full = {"seen": 20, "of": 20, "events": 7}
    (made,) = (whole := weighted_proportions(**rows(full, full), replicates=200, seed=4)).groups
    assert made.estimate == 14 / 40
    assert made.n_effective == 40
    assert (whole.truncated_at, whole.covariates, whole.reason) == (None, (), None)
    assert made.low < 14 / 40 < made.high


def test_groups_share_a_model_and_are_normalised_each_to_its_own():
    made = rows(SMALL, LARGE)
    level = made["covariates"][:, 0].astype(int)
    small, large = weighted_proportions(**made, group=level, groups=2, replicates=0).groups
    assert (small.estimate, large.estimate) == (pytest.approx(0.4), pytest.approx(0.8))
    assert small.n_effective == pytest.approx(10)


def test_weights_are_cut_at_their_99th_percentile():
    rng = np.random.default_rng(5)
    x = rng.normal(size=3000)
    observed = rng.random(3000) < 1 / (1 + np.exp(-2 * x))
    given: dict[str, Any] = {
        "outcome": (x > 0).astype(float),
        "observed": observed,
        "weight_one": np.zeros(3000, dtype=bool),
        "covariates": x[:, None],
        "cluster": np.arange(3000),
    }
    made = weighted_proportions(**given, replicates=0)
    model, _ = fitted_model(observed, x[:, None], ["x"])
    assert model is not None
    weights = 1 / model.chance[observed]
    assert made.truncated_at == pytest.approx(np.quantile(weights, 0.99, method="inverted_cdf"))
    assert made.truncated == (weights > made.truncated_at).sum() > 0


def test_the_refitted_chances_are_those_of_a_fit_to_the_resample():
    import statsmodels.api as sm

    rng = np.random.default_rng(8)
    x = rng.normal(size=(400, 3))
    observed = rng.random(400) < 1 / (1 + np.exp(-x[:, 0]))
    times = rng.poisson(1.0, size=(400, 5)).astype(float)
    model, _ = fitted_model(observed, x, ["a", "b", "c"])
    assert model is not None
    chances = refitted_chances(model, observed, times)
    for column, drawn in zip(chances.T, times.T, strict=True):
        expected = sm.GLM(observed.astype(float), sm.add_constant(x), sm.families.Binomial(), freq_weights=drawn).fit()
        assert column == pytest.approx(expected.predict(sm.add_constant(x)), abs=2e-4)


def test_limits_agree_with_resampling_one_by_one():
    """Slowly, by drawing patients and working the estimate out anew from the start."""
    made = rows({"seen": 40, "of": 80, "events": 12}, {"seen": 60, "of": 80, "events": 48})
    fast = weighted_proportion(**made, replicates=2000, seed=3)
    rng = np.random.default_rng(1)
    slow = []
    for _ in range(400):
        drawn = rng.integers(0, 160, 160)
        again = {name: np.asarray(made[name])[drawn] for name in ("outcome", "observed", "weight_one", "covariates")}
        slow.append(weighted_proportion(**again, cluster=np.arange(160), replicates=0).estimate)
    low, high = np.quantile(slow, [0.025, 0.975])
    assert (fast.low, fast.high) == (pytest.approx(low, abs=0.015), pytest.approx(high, abs=0.015))


def test_several_outcomes_fare_as_each_alone():
    made = rows(SMALL, LARGE)
    other = np.where(np.isnan(made["outcome"]), np.nan, 1 - np.asarray(made["outcome"]))
    given = {name: value for name, value in made.items() if name != "outcome"}
    together = several_weighted_proportions(outcomes=np.column_stack([made["outcome"], other]), **given, replicates=100)
    assert together[0].groups == weighted_proportions(**made, replicates=100).groups
    assert together[1].groups == weighted_proportions(**(made | {"outcome": other}), replicates=100).groups


def test_a_level_that_is_always_observed_is_named_and_refused():
    made = weighted_proportion(**rows(SMALL, {"seen": 20, "of": 20, "events": 9}), replicates=0)
    assert made.estimate is None
    assert made.reason == "the model of being observed is separated: all of the 20 with large were observed"


def test_a_level_that_is_never_observed_is_named_and_refused():
    made = weighted_proportion(**rows(SMALL, {"seen": 0, "of": 20, "events": 0}), replicates=50)
    assert (made.estimate, made.low) == (None, None)
    assert made.reason == "the model of being observed is separated: none of the 20 with large were observed"


def test_a_number_that_separates_is_refused_too():
    given = rows(SMALL, LARGE)
    given["covariates"] = np.where(given["observed"], 5.0, -5.0)[:, None] + np.linspace(0, 1, 40)[:, None]
    made = weighted_proportion(**given, replicates=0)
    assert made.estimate is None
    assert "did not converge" in made.reason or "separated" in made.reason


def test_nobody_observed_and_nobody_at_all_have_reasons():
    assert weighted_proportion(**rows({"seen": 0, "of": 9, "events": 0}), replicates=0).reason == (
        "none of the 9 that could have been observed were"
    )
    empty = weighted_proportions(**rows(SMALL, LARGE), group=np.zeros(40, dtype=int), groups=2, replicates=10).groups[1]
    assert (empty.estimate, empty.reason) == (None, "nobody is in the group")


def test_a_share_of_none_or_all_has_no_bootstrap_interval_and_says_so():
    for events in (0, 1):
        level = rows({**SMALL, "events": 10 * events}, {**LARGE, "events": 15 * events})
        made = weighted_proportion(**level, replicates=50)
        assert (made.estimate, made.low, made.high) == (events, None, None)
        assert made.reason == "every resample gives the same value"


def test_constant_and_aliased_columns_are_left_out():
    x = np.arange(6.0)
    design, kept = standard_design(np.column_stack([x, np.ones(6), 2 * x + 1, x**2]), ["a", "one", "twice", "square"])
    assert kept == ("intercept", "a", "square")
    assert design.mean(axis=0) == pytest.approx([1, 0, 0])


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"covariates": np.full((40, 1), np.nan)}, "missing or infinite"),
        ({"outcome": np.full(40, 2.0)}, "must be 0 or 1"),
        ({"cluster": np.zeros(3)}, "one entry a row"),
        ({"replicates": -1}, "replicates is -1"),
        ({"level": 1.5}, "confidence level"),
    ],
)
def test_what_cannot_be_weighted_is_refused(change: dict[str, Any], said: str):
    with pytest.raises(ValueError, match=said):
        weighted_proportion(**(rows(SMALL, LARGE) | {"replicates": 0} | change))
