"""The study itself: the same cohorts whoever draws them, and a full-data rate that is what it says."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import pytest

from tests.simulation.batch import BATCH, Task, run
from tests.simulation.measures import measured
from tests.simulation.scenarios import EVERYBODY_SCANNED, SCENARIOS
from tests.simulation.study import study

TWO = {name: SCENARIOS[name] for name in ("mixed scans", "everything")}


def task(first: int, last: int, **changes: object) -> Task:
    return Task("everything", replace(SCENARIOS["everything"], **changes), first, last, 60, 7, 0.95)


def test_the_same_seed_gives_the_same_table_on_one_process_or_two() -> None:
    cohorts = BATCH + 3
    alone, shared = (study(cohorts=cohorts, size=20, seed=5, workers=n, scenarios=TWO) for n in (1, 2))
    pd.testing.assert_frame_equal(alone, shared, check_exact=True)
    pd.testing.assert_frame_equal(measured(alone), measured(shared), check_exact=True)
    assert len(alone) == 2 * cohorts * 5


def test_another_seed_gives_other_cohorts_and_more_of_them_keep_the_first() -> None:
    few = study(cohorts=3, size=20, seed=5, scenarios=TWO)
    more = study(cohorts=4, size=20, seed=5, scenarios=TWO)
    other = study(cohorts=3, size=20, seed=6, scenarios=TWO)
    pd.testing.assert_frame_equal(few, more[more["cohort"] < 3].reset_index(drop=True), check_exact=True)
    assert not few["full"].equals(other["full"])


def test_cohorts_judged_together_fare_as_each_alone() -> None:
    together = run(task(0, 3))
    alone = pd.concat([run(task(number, number + 1)) for number in range(3)], ignore_index=True)
    pd.testing.assert_frame_equal(together, alone, check_exact=True)


def test_the_full_data_are_what_adequate_scans_of_everybody_would_show() -> None:
    """Two ways to the same rate: what is left in truth, and the rule applied to one thin-slice CT of every side."""
    as_scanned, all_scanned = run(task(0, 20, share_died=0.0)), run(task(0, 20, share_died=0.0, **EVERYBODY_SCANNED))
    pd.testing.assert_series_equal(as_scanned["full"], all_scanned["full"], check_exact=True)
    pd.testing.assert_series_equal(all_scanned["complete"], as_scanned["full"], check_names=False, check_exact=True)
    assert (all_scanned["n_complete"] == as_scanned["full_n"]).all()
    assert (as_scanned["complete"] < as_scanned["full"]).mean() > 0.9


@pytest.mark.parametrize("scenario", SCENARIOS)
def test_every_cohort_has_sides_of_known_and_of_unknown_status(scenario: str) -> None:
    found = run(Task(scenario, SCENARIOS[scenario], 0, 2, 40, 7, 0.95))
    assert (found["n_complete"] > 0).all()
    assert (found["n_complete"] < found["full_n"]).all()
    assert (found["lower"] < found["upper"]).all()
