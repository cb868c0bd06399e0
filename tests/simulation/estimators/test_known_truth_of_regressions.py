"""Ordered outcomes, counts, times and exact tables find what the data were drawn from; `slow` runs it long."""

from __future__ import annotations

import pytest

from tests.simulation.estimators import means, ordered
from tests.simulation.estimators.own_rows import AREA
from tests.simulation.estimators.runner import Scenario, run, strays
from tests.simulation.estimators.small_tables import EXACT

SCENARIOS = [*ordered.SCENARIOS, *means.SCENARIOS]


@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth(scenario: Scenario) -> None:
    table = run(scenario, 60, 1)
    assert strays(table, errors=3.5) == []
    assert (table["refused"] == 0).all()


def test_exact_limits_cover_at_least_as_often_as_they_say() -> None:
    table = run(EXACT, 300, 2).set_index("estimator")
    exact, middle = (table.loc[f"conditional, {name}"] for name in ("exact", "mid-p"))
    assert exact["coverage"] >= 0.95 - 3 * exact["coverage_error"]
    assert exact["coverage"] >= middle["coverage"] >= 0.95 - 3 * middle["coverage_error"]


def test_the_area_on_its_own_rows_flatters_and_the_correction_takes_most_of_it_away() -> None:
    table = run(AREA, 60, 3).set_index("estimator")
    apparent, corrected = table.loc["apparent"], table.loc["corrected"]
    assert apparent["bias"] > 3 * apparent["bias_error"] and apparent["bias"] > 0.02
    assert abs(corrected["bias"]) < apparent["bias"] / 2


@pytest.mark.slow
@pytest.mark.parametrize("scenario", SCENARIOS, ids=lambda each: each.name)
def test_every_estimator_finds_its_truth_over_many(scenario: Scenario) -> None:
    assert strays(run(scenario, 2000, 4)) == []


def test_an_estimator_that_is_wrong_is_told() -> None:
    def off(rng):  # type: ignore[no-untyped-def]
        value = rng.normal()
        return {"right": (value, value - 1.959964, value + 1.959964), "wrong": (value + 1, value, value + 2)}

    scenario = Scenario(name="two", estimand={"right": "0", "wrong": "0"}, truth={"right": 0.0, "wrong": 0.0}, once=off)
    told = strays(run(scenario, 400, 5))
    assert len(told) == 2 and all(each.startswith("wrong") for each in told)
