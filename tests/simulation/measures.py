"""Coverage and bias over the cohorts of a study, each with its simulation error."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache

import numpy as np
import pandas as pd

from synthetic_cohort.outcome import THRESHOLDS
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.truth import Estimand, TrueValue, true_value
from tests.simulation.batch import METHODS
from tests.simulation.scenarios import SCENARIOS
from tests.simulation.unscanned import CLASSES

FIGURES: dict[str, tuple[str, ...]] = {
    "full": (),
    "complete": (*METHODS, "clustered"),
    "adequate": METHODS,
    "lower": (),
    "upper": (),
    "weighted": ("bootstrap",),
    "imputed": ("clustered",),
}
"""Each rate, and the intervals it has."""


def measured(found: pd.DataFrame, scenarios: Mapping[str, Parameters] = SCENARIOS) -> pd.DataFrame:
    """One row a scenario, threshold and rate.

    Columns: cohorts, those in which there is such a rate; n, mean denominator; mean rate; true value and true_error;
    bias (mean - true) and bias_error; off_full: mean difference from the rate that the same sides have in truth, and
    off_full_error; and, for each interval, coverage_... of the true value with coverage_..._error, and width_..., its
    mean width. Every error is one standard error of the simulation.
    """
    rows = [
        _row(part, str(scenario), str(threshold), figure, scenarios[str(scenario)])
        for (scenario, threshold), part in found.groupby(["scenario", "threshold"], sort=False)
        for figure in FIGURES
        if figure in part and part[figure].notna().any()
    ]
    return pd.DataFrame(rows)


def _row(part: pd.DataFrame, scenario: str, threshold: str, figure: str, parameters: Parameters) -> dict[str, object]:
    true = _truth(parameters, threshold)
    part = part[part[figure].notna()]
    rate = part[figure].to_numpy()
    mean, error = _mean(rate)
    off, off_error = _mean(rate - part["full"].to_numpy())
    n = part[f"n_{figure}"] if f"n_{figure}" in part else part["full_n"]
    row: dict[str, object] = {
        "scenario": scenario,
        "threshold": threshold,
        "rate": figure,
        "cohorts": len(part),
        "n": n.mean(),
        "mean": mean,
        "true": true.value,
        "true_error": true.error,
        "bias": mean - true.value,
        "bias_error": math.hypot(error, true.error),
        "off_full": off,
        "off_full_error": off_error,
    }
    for method in FIGURES[figure]:
        low, high = (part[f"{limit}_{figure}_{method}"].to_numpy() for limit in ("low", "high"))
        share, share_error = _mean((low <= true.value) & (true.value <= high))
        row |= {f"coverage_{method}": share, f"coverage_{method}_error": share_error}
        row[f"width_{method}"] = np.mean(high - low)
    return row


@cache
def _truth(parameters: Parameters, threshold: str) -> TrueValue:
    return true_value(parameters, Estimand(threshold=threshold))


def _mean(values: np.ndarray) -> tuple[float, float]:
    return float(values.mean()), float(values.std() / math.sqrt(len(values)))


def outside_bounds(found: pd.DataFrame) -> pd.DataFrame:
    """The rows in which the rate of the full data lies outside the bounds."""
    # The three are ratios of whole numbers to the same number, so that equal counts give equal rates.
    inside = (found["lower"] <= found["full"]) & (found["full"] <= found["upper"])
    return found[~inside]


def by_threshold(table: pd.DataFrame, figure: str) -> list[tuple[str, pd.Series]]:
    """The rows of one rate in a scenario's part of the table, one a threshold.

    Raises ValueError unless every threshold has one row: a claim about nothing would always hold.
    """
    rows = table[table["rate"] == figure]
    answered = CLASSES if figure == "imputed" else THRESHOLDS
    if sorted(rows["threshold"]) != sorted(answered):
        raise ValueError(
            f"{figure} has rows for {', '.join(rows['threshold'])}, not one for each of {', '.join(answered)}."
        )
    return [(row["threshold"], row) for _, row in rows.iterrows()]
