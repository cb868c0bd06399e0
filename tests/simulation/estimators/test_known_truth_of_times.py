"""Times to events find what they were drawn from, also where two rows of a patient go together; `slow` runs long."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.estimators.survival.cox import cox
from tests.simulation.estimators.runner import Scenario, run, strays
from tests.simulation.estimators.times import CLUSTER, GROUP, NAMES, SCENARIOS, SIZE, columns, on_log, together


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth(scenario: Scenario) -> None:
    table = run(scenario, 60, 1)
    assert strays(table, errors=3.5) == []
    assert (table["refused"] == 0).all()


@pytest.mark.slow
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth_over_many(scenario: Scenario) -> None:
    assert strays(run(scenario, 2000, 4)) == []


def test_the_error_that_takes_rows_as_independent_is_too_small() -> None:
    def once(rng: np.random.Generator):  # type: ignore[no-untyped-def]
        x = columns(rng)
        time = -np.log(together(rng)) * np.exp(-(GROUP * x[:, 0] + SIZE * x[:, 1]))
        return {
            "plain": on_log(cox(time, np.ones(len(time)), x, NAMES)),
            "clusters": on_log(cox(time, np.ones(len(time)), x, NAMES, cluster=CLUSTER)),
        }

    both = {"plain": GROUP, "clusters": GROUP}
    table = run(Scenario(name="one", estimand={"plain": "", "clusters": ""}, truth=both, once=once), 200, 6)
    told = strays(table)
    assert len(told) == 1 and told[0].startswith("plain: coverage")
