"""Draw data whose truth is known, estimate, and count: bias, coverage, and the simulation error of both."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from zlib import crc32

import numpy as np
import pandas as pd

Limits = tuple[float, float, float]
"""Estimate, lower and upper limit, on the scale of the truth; limits may be not a number where there are none."""


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """once: draws data with the generator and gives, for each estimator, its estimate and limits, None when refused.

    truth: of each estimator what it should find. estimand: in words. level: of the limits.
    """

    name: str
    estimand: Mapping[str, str]
    truth: Mapping[str, float]
    once: Callable[[np.random.Generator], Mapping[str, Limits | None]]
    level: float = 0.95


def run(scenario: Scenario, replicates: int, seed: int) -> pd.DataFrame:
    """One row an estimator: what it estimates, its truth, replicates, refused, bias, coverage, the errors of both.

    The same seed gives the same table, whatever other scenarios run.
    """
    spawned = np.random.SeedSequence([seed, crc32(scenario.name.encode())]).spawn(replicates)
    found: dict[str, list[Limits]] = {name: [] for name in scenario.truth}
    for each in spawned:
        for name, limits in scenario.once(np.random.default_rng(each)).items():
            if limits is not None:
                found[name].append(limits)
    return pd.DataFrame([_row(scenario, name, replicates, found[name]) for name in scenario.truth])


def _row(scenario: Scenario, name: str, replicates: int, found: list[Limits]) -> dict[str, object]:
    truth, made = scenario.truth[name], np.array(found, dtype=float).reshape(-1, 3)
    many, finite = len(made), made[np.isfinite(made[:, 0]), 0]  # an odds ratio may be infinite
    inside = (made[:, 1] <= truth) & (truth <= made[:, 2])
    limited = bool(np.isfinite(made[:, 1:]).any())
    coverage = float(inside.mean()) if limited else math.nan
    return {
        "scenario": scenario.name,
        "estimator": name,
        "estimand": scenario.estimand[name],
        "truth": truth,
        "replicates": replicates,
        "refused": replicates - many,
        "bias": float(finite.mean() - truth),
        "bias_error": float(finite.std(ddof=1) / math.sqrt(len(finite))),
        "coverage": coverage,
        "coverage_error": math.sqrt(scenario.level * (1 - scenario.level) / many) if limited else math.nan,
    }


def strays(table: pd.DataFrame, *, level: float = 0.95, errors: float = 3.0) -> list[str]:
    """What lies further off than so many simulation errors, in words; empty when every estimator finds its truth."""
    told = []
    for row in table.itertuples():
        if abs(row.bias) > errors * row.bias_error:
            told.append(f"{row.estimator}: bias {row.bias:.4f}, simulation error {row.bias_error:.4f}")
        if not math.isnan(row.coverage) and abs(row.coverage - level) > errors * row.coverage_error:
            told.append(f"{row.estimator}: coverage {row.coverage:.3f}, simulation error {row.coverage_error:.3f}")
    return told
