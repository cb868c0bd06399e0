"""Coverage and bias where the truth is known: the short form of what `python -m tests.simulation` does."""

from __future__ import annotations

import os
from collections.abc import Callable

import pandas as pd
import pytest

from tests.simulation.claims import CLAIMS, broken
from tests.simulation.measures import measured
from tests.simulation.scenarios import SCENARIOS
from tests.simulation.study import study

SEED = 20_240_601
Spoil = Callable[[pd.DataFrame], pd.DataFrame]
COHORTS = {"mixed scans": 250, "both sides": 300}
# A model of a dozen coefficients needs more than the cohorts of the rest.
SIZES = {"by recorded": 300, "mixed by recorded": 600, "not random": 250, "abandoned": 250}
FEWER = 60
SIZE = 120


def shortened(figure: str) -> Spoil:
    """Wilson's limits as near as those of a 90 % interval."""
    limits = [f"low_{figure}_wilson", f"high_{figure}_wilson"]
    near = 1.645 / 1.960
    return lambda found: found.assign(**{one: found[figure] + (found[one] - found[figure]) * near for one in limits})


def put(**taken_from: str) -> Spoil:
    """One column's values in the place of another's."""
    # Where there was no value there is still none: imputed answers three thresholds.
    return lambda found: found.assign(
        **{name: found[other].where(found[name].notna()) for name, other in taken_from.items()}
    )


def moved(figure: str, by: float) -> Spoil:
    """A rate off by so much in every cohort."""
    return lambda found: found.assign(**{figure: found[figure] + by})


PLAIN = {f"{limit}_complete_clustered": f"{limit}_complete_wilson" for limit in ("low", "high")}
SPOILT: dict[str, dict[str, Spoil]] = {
    "mixed scans": {
        "plain_intervals_cover": shortened("adequate"),
        "complete_case_leans_low": put(complete="adequate"),
        "rate_adequate_is_right": put(adequate="complete"),
        "truth_is_the_mean_of_the_full_data": moved("full", 0.01),
    },
    "both sides": {
        "clustered_intervals_cover": put(**PLAIN),
        "plain_intervals_are_too_short": put(**{plain: clustered for clustered, plain in PLAIN.items()}),
        "complete_case_is_right": moved("complete", -0.01),
    },
    "by recorded": {
        "complete_case_leans_low": put(complete="full"),
        "weighted_is_right": put(weighted="complete"),
        "imputed_is_right": put(imputed="complete"),
        "modelled_intervals_cover": put(low_weighted_bootstrap="weighted", high_weighted_bootstrap="weighted"),
    },
    "mixed by recorded": {"imputed_mends_most": put(imputed="complete")},
    "not random": {
        "weighted_leans_low": put(weighted="full"),
        "imputed_leans_low": put(imputed="full"),
        "bounds_contain_the_full_data": put(lower="low_complete_wilson", upper="high_complete_wilson"),
        "rate_adequate_leans_low": put(adequate="full"),
    },
}
"""What would break each claim."""


@pytest.mark.parametrize("scenario", CLAIMS)
def test_claims_hold_and_would_not_of_spoilt_figures(scenario: str) -> None:
    """In one test, because the cohorts of a scenario take most of the time."""
    cohorts = COHORTS.get(scenario, FEWER)
    found = study(cohorts=cohorts, size=SIZES.get(scenario, SIZE), seed=SEED, scenarios={scenario: SCENARIOS[scenario]})
    assert broken(found, measured(found), scenario) == {}
    for claim, spoil in SPOILT.get(scenario, {}).items():
        spoilt = spoil(found)
        assert claim in broken(spoilt, measured(spoilt), scenario)


@pytest.mark.slow
def test_claims_hold_in_five_thousand_cohorts_each() -> None:
    found = study(cohorts=5000, size=300, seed=SEED, workers=os.cpu_count() or 1)
    table = measured(found)
    assert {scenario: broken(found, table, scenario) for scenario in CLAIMS} == {scenario: {} for scenario in CLAIMS}
