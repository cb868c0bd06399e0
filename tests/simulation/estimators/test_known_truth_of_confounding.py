"""Weights, doubly robust estimates, imputation and resampling find their truth where the naive answer does not."""

from __future__ import annotations

import pytest

from tests.simulation.estimators import confounded, missing_covariates, resampled
from tests.simulation.estimators.runner import Scenario, run, strays

SCENARIOS = [*confounded.SCENARIOS, *missing_covariates.SCENARIOS, *resampled.SCENARIOS]


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth(scenario: Scenario) -> None:
    table = run(scenario, 20 if scenario in missing_covariates.SCENARIOS else 40, 1)
    assert strays(table, errors=3.5) == []
    assert (table["refused"] == 0).all()


@pytest.mark.parametrize("scenario", [confounded.NAIVE, missing_covariates.COMPLETE], ids=lambda each: each.name)
def test_the_naive_answer_is_wrong(scenario: Scenario) -> None:
    row = run(scenario, 50, 1).iloc[0]
    assert abs(row["bias"]) > 10 * row["bias_error"]
    assert row["coverage"] < 0.8


def test_the_crude_comparison_has_the_wrong_sign() -> None:
    """The index group helps, and looks as if it harmed."""
    truth = confounded.NAIVE.truth["crude"]
    assert truth > 0.05 and truth + run(confounded.NAIVE, 50, 1)["bias"].iloc[0] < 0


@pytest.mark.slow
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth_over_many(scenario: Scenario) -> None:
    assert strays(run(scenario, 2000, 4)) == []
