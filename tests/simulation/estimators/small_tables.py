"""Rare outcomes in small groups: exact limits cover at least as often as they say, mid-p ones about as often."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from analysis.estimators.exact_tables import TableOddsRatio, two_by_two
from tests.simulation.estimators.runner import Limits, Scenario

SIZES, CHANCES = (60, 90), (0.15, 0.06)
TRUTH = float(np.log(CHANCES[0] / (1 - CHANCES[0]) / (CHANCES[1] / (1 - CHANCES[1]))))


def limits(found: TableOddsRatio) -> Limits | None:
    if found.estimate is None or found.low is None or found.high is None:
        return None
    with np.errstate(divide="ignore"):
        return tuple(float(np.log(value)) for value in (found.estimate, found.low, found.high))  # type: ignore[return-value]


def once(rng: np.random.Generator) -> Mapping[str, Limits | None]:
    events = tuple(int(rng.binomial(size, chance)) for size, chance in zip(SIZES, CHANCES, strict=True))
    found = two_by_two(events=events, totals=SIZES)  # type: ignore[arg-type]
    return {"conditional, exact": limits(found.conditional), "conditional, mid-p": limits(found.conditional_mid_p)}


EXACT = Scenario(
    name="small tables",
    estimand={"conditional, exact": "log odds ratio", "conditional, mid-p": "log odds ratio"},
    truth={"conditional, exact": TRUTH, "conditional, mid-p": TRUTH},
    once=once,
)
"""Not among SCENARIOS: exact limits are meant to cover too often, which its own test looks at."""
