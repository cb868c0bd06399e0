"""What is claimed of the rates, each claim with the simulation error it is judged by.

A claim takes what a study found in one scenario, by cohort and as measured, and gives one sentence for every way in
which it does not hold: none when it holds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import pandas as pd

from tests.simulation.measures import by_threshold, outside_bounds
from tests.simulation.unscanned import CLASSES

NOMINAL = 0.95
ERRORS = 3.0
"""How many simulation errors a difference may amount to and still be chance."""
NEAR_NOMINAL = 0.02


def plain_intervals_cover(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Intervals of rate_adequate cover the truth as often as they say, Wilson's and the exact one."""
    for threshold, row in by_threshold(table, "adequate"):
        error = _error_at_nominal(row)
        for method in ("wilson", "exact"):
            if not row[f"coverage_{method}"] >= NOMINAL - ERRORS * error:
                yield f"{method} at {threshold} covers {row[f'coverage_{method}']:.4f}, error {error:.4f}"


def clustered_intervals_cover(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """The clustered interval covers within two points of nominal, the simulation's error allowed for."""
    for threshold, row in by_threshold(table, "complete"):
        covered, error = row["coverage_clustered"], _error_at_nominal(row)
        if not abs(covered - NOMINAL) <= NEAR_NOMINAL + ERRORS * error:
            yield f"clustered at {threshold} covers {covered:.4f}, error {error:.4f}"


def plain_intervals_are_too_short(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """The plain interval covers too seldom when a patient's sides are alike, so that the clustered one is needed."""
    for threshold, row in by_threshold(table, "complete"):
        covered, error = row["coverage_wilson"], row["coverage_wilson_error"]
        if not covered < NOMINAL - ERRORS * error:
            yield f"plain at {threshold} covers {covered:.4f}, error {error:.4f}"


def bounds_contain_the_full_data(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """In every cohort, whoever was scanned, the bounds contain the rate that the same sides have in truth."""
    for row in outside_bounds(found).itertuples():
        yield f"cohort {row.cohort} at {row.threshold}: {row.full:.4f} is not in {row.lower:.4f} to {row.upper:.4f}"


def complete_case_leans_low(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Complete case is below the rate that the same sides have in truth, by more than chance."""
    yield from _not_low(table, "complete")


def complete_case_is_right(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Complete case is right on average."""
    yield from _not_right(table, "complete")


def rate_adequate_leans_low(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """rate_adequate is below the rate that the same sides have in truth, by more than chance."""
    yield from _not_low(table, "adequate")


def rate_adequate_is_right(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """rate_adequate is right on average."""
    yield from _not_right(table, "adequate")


def weighted_is_right(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Weighted is right on average, and seldom without an answer."""
    yield from _not_right(table, "weighted")
    yield from _seldom_refused(found, "weighted")


def imputed_is_right(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Imputed is right on average, and seldom without an answer."""
    yield from _not_right(table, "imputed")
    yield from _seldom_refused(found[found["threshold"].isin(CLASSES)], "imputed")


def weighted_leans_low(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Weighted is off: what it is not told of it cannot mend."""
    yield from _not_low(table, "weighted")


def imputed_leans_low(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Imputed is off: what it is not told of it cannot mend."""
    yield from _not_low(table, "imputed")


def imputed_mends_most(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Imputed is nearer than a quarter of what complete case is off by."""
    complete = dict(by_threshold(table, "complete"))
    for threshold, row in by_threshold(table, "imputed"):
        if not abs(row["off_full"]) < abs(complete[threshold]["off_full"]) / 4:
            yield f"at {threshold} it is off by {row['off_full']:+.4f}, complete {complete[threshold]['off_full']:+.4f}"


def modelled_intervals_cover(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """Intervals of weighted and imputed cover no less than nominal less three points, the error allowed for."""
    for figure, method in (("weighted", "bootstrap"), ("imputed", "clustered")):
        for threshold, row in by_threshold(table, figure):
            covered, error = row[f"coverage_{method}"], _error_at_nominal(row)
            if not covered >= NOMINAL - NEAR_NOMINAL - 0.01 - ERRORS * error:
                yield f"{figure} at {threshold} covers {covered:.4f}, error {error:.4f}"


def truth_is_the_mean_of_the_full_data(found: pd.DataFrame, table: pd.DataFrame) -> Iterator[str]:
    """The true value agrees with the mean, over cohorts, of the rate that their sides have in truth."""
    for threshold, row in by_threshold(table, "full"):
        if not abs(row["bias"]) <= 4 * row["bias_error"]:
            yield f"at {threshold} it is off by {row['bias']:+.5f}, error {row['bias_error']:.5f}"


def _error_at_nominal(row: pd.Series) -> float:
    return math.sqrt(NOMINAL * (1 - NOMINAL) / row["cohorts"])


def _seldom_refused(found: pd.DataFrame, figure: str) -> Iterator[str]:
    refused = found[figure].isna().mean()
    if refused > 0.1:
        yield f"{figure} has no rate in {refused:.3f} of cohorts and thresholds"


def _not_low(table: pd.DataFrame, figure: str) -> Iterator[str]:
    for threshold, row in by_threshold(table, figure):
        if not row["off_full"] < -ERRORS * row["off_full_error"]:
            yield f"at {threshold} it is off by {row['off_full']:+.4f}, error {row['off_full_error']:.4f}"


def _not_right(table: pd.DataFrame, figure: str) -> Iterator[str]:
    for threshold, row in by_threshold(table, figure):
        if not abs(row["off_full"]) <= ERRORS * row["off_full_error"]:
            yield f"at {threshold} it is off by {row['off_full']:+.4f}, error {row['off_full_error']:.4f}"


Claim = Callable[[pd.DataFrame, pd.DataFrame], Iterator[str]]

_ALWAYS: tuple[Claim, ...] = (bounds_contain_the_full_data, truth_is_the_mean_of_the_full_data)

CLAIMS: dict[str, tuple[Claim, ...]] = {
    "mixed scans": (*_ALWAYS, plain_intervals_cover, complete_case_leans_low, rate_adequate_is_right),
    "thin CT": (*_ALWAYS, plain_intervals_cover, complete_case_is_right),
    # Here every scan is adequate, so that nothing but who was scanned makes the rates lean.
    "not random": (
        *_ALWAYS,
        complete_case_leans_low,
        rate_adequate_leans_low,
        weighted_leans_low,
        imputed_leans_low,
    ),
    "by recorded": (
        *_ALWAYS,
        complete_case_leans_low,
        weighted_is_right,
        imputed_is_right,
        modelled_intervals_cover,
    ),
    # Few scans are adequate in a small cohort, where what imperfect ones overlook is estimated a little high.
    "mixed by recorded": (*_ALWAYS, complete_case_leans_low, weighted_is_right, imputed_mends_most),
    "both sides": (*_ALWAYS, clustered_intervals_cover, plain_intervals_are_too_short, complete_case_is_right),
    # Abandoned sides count whether scanned or not, others only when scanned: weights make up for it, and so do draws.
    "abandoned": (
        *_ALWAYS,
        complete_case_leans_low,
        rate_adequate_leans_low,
        weighted_is_right,
        imputed_is_right,
    ),
    # In a cohort this small fewer sides than in the long run are treated again, so its truth is another.
    "everything": (bounds_contain_the_full_data,),
}
"""What is claimed of each scenario."""


def broken(found: pd.DataFrame, table: pd.DataFrame, scenario: str) -> dict[str, list[str]]:
    """The claims made of a scenario that do not hold, each with how."""
    found, table = found[found["scenario"] == scenario], table[table["scenario"] == scenario]
    said = {claim.__name__: list(claim(found, table)) for claim in CLAIMS.get(scenario, ())}
    return {name: sentences for name, sentences in said.items() if sentences}
