"""Some cohorts at a time: drawn one by one, judged together, counted with each cohort as a group.

Judging fifty small cohorts together takes little longer than judging one, and no result of one can depend on
another: they share no patient.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from zlib import crc32

import numpy as np
import numpy.typing as npt
import pandas as pd

from analysis.estimators.proportions import ProportionMethod
from analysis.outcomes.definition import Definition
from analysis.outcomes.inputs import FRAMES, Tables
from analysis.outcomes.status import stone_free_status
from analysis.reports.request.grouping import Grouping
from analysis.reports.stone_free.packed import Packed, packed
from analysis.reports.stone_free.rates import stone_free_rates
from synthetic_cohort.analysis_inputs import analysis_inputs
from synthetic_cohort.frames import cohort
from synthetic_cohort.outcome import THRESHOLDS, cut_mm
from synthetic_cohort.parameters import Parameters
from tests.simulation.scenarios import MODELLED
from tests.simulation.unscanned import modelled

METHODS: tuple[ProportionMethod, ...] = ("wilson", "exact", "mid-p", "jeffreys")
MODES = ("complete", "lower", "upper")
DEFINITION = Definition.from_options(threshold=",".join(THRESHOLDS))
BATCH = 50
APART = 10**9
"""Identifiers of a batch's cohorts lie this far apart."""
# The last scan is at most 200 days after the last operation: no side is waiting for its window to end.
RECORDS_CLOSE = timedelta(days=400)


@dataclass(frozen=True)
class Task:
    """The cohorts first to last - 1 of a scenario, each of ``size`` operations."""

    scenario: str
    parameters: Parameters
    first: int
    last: int
    size: int
    seed: int
    level: float


def seed_of(seed: int, scenario: str, number: int) -> int:
    """The seed of one cohort: its own, however many there are and whoever draws it."""
    sequence = np.random.SeedSequence([seed, crc32(scenario.encode())], spawn_key=(number,))
    return int(sequence.generate_state(1, np.uint64)[0])


def run(task: Task) -> pd.DataFrame:
    """One row a cohort and threshold.

    Columns: scenario, cohort, threshold; full_n, full: how many sides are eligible, and the share of them that is
    free in truth; complete, adequate, lower, upper: the rates; n_complete, n_adequate; and of complete and adequate
    the limits by each method, such as ``low_adequate_mid-p``, those by patients as ``low_complete_clustered``. In the
    scenarios of MODELLED also weighted and imputed with their limits; see ``unscanned.modelled``.
    """
    tables, residual_mm = judged_together(task)
    units = packed(stone_free_status(tables, DEFINITION), DEFINITION.thresholds)
    number = units.unit_id // APART
    cohorts = task.last - task.first
    grouping = Grouping(("cohort",), tuple((at,) for at in range(cohorts)), number)
    rates = {
        method: stone_free_rates(units, grouping, unscanned=modes, interval=method, level=task.level)
        for method, modes in zip(METHODS, (MODES, *[MODES[:1]] * 3), strict=True)
    }
    by_mode = {mode: rows.reset_index(drop=True) for mode, rows in rates["wilson"].groupby("unscanned")}
    complete = by_mode["complete"]
    full_n, full = full_data(units, residual_mm, number, cohorts)
    found = {
        "scenario": task.scenario,
        "cohort": task.first + complete["group"],
        "threshold": complete["threshold"],
        "full_n": np.repeat(full_n, len(THRESHOLDS)),
        "full": full.ravel(),
        **{mode: by_mode[mode]["rate"] for mode in MODES},
        "adequate": complete["rate_adequate"],
        "n_complete": complete["n"],
        "n_adequate": complete["n_adequate"],
        "low_complete_clustered": complete["low_clustered"],
        "high_complete_clustered": complete["high_clustered"],
    }
    for method, rows in rates.items():
        shown = rows[rows["unscanned"] == "complete"].reset_index(drop=True)
        for limit in ("low", "high"):
            found[f"{limit}_complete_{method}"] = shown[limit]
            found[f"{limit}_adequate_{method}"] = shown[f"{limit}_adequate"]
    told = pd.DataFrame(found)
    if task.scenario not in MODELLED:
        return told
    replicates = MODELLED[task.scenario]
    models = modelled(tables, units, DEFINITION, number, cohorts, apart=APART, replicates=replicates, level=task.level)
    return pd.concat([told.reset_index(drop=True), models.drop(columns="threshold")], axis=1)


def judged_together(task: Task) -> tuple[Tables, pd.Series]:
    """The tables of a task's cohorts as one, and what is left on each side, in mm, by side_id."""
    cohorts = task.last - task.first
    drawn = [
        analysis_inputs(cohort(task.parameters, task.size, seed_of(task.seed, task.scenario, number)))
        for number in range(task.first, task.last)
    ]
    whole = {}
    for name in FRAMES:
        frames: list[pd.DataFrame] = [inputs[name] for inputs in drawn]
        # An empty frame says nothing of its columns' types, and would only blur those of the others.
        joined = pd.concat([frame for frame in frames if len(frame)] or frames[:1], ignore_index=True)
        of = np.repeat(np.arange(cohorts), [len(frame) for frame in frames])
        ids = [column for column in joined.columns if column.endswith("_id")]
        whole[name] = joined.assign(**{column: joined[column] + APART * of for column in ids})
    tables = Tables(**whole, as_of=task.parameters.last_day + RECORDS_CLOSE)
    return tables, whole["sides"].set_index("side_id")["residual_mm"]


def full_data(
    units: Packed, residual_mm: pd.Series, number: npt.NDArray[np.int64], cohorts: int
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
    """Eligible sides of each cohort, and the share of them free in truth, shape (cohorts, thresholds).

    Eligible are those whose status is known or unknown; whether they were scanned is not looked at.
    """
    eligible = units.is_status("free", "failed", "unknown")[:, 0][units.pattern]
    left = residual_mm.reindex(units.unit_id[eligible]).to_numpy()
    of = number[eligible]
    n = np.bincount(of, minlength=cohorts)
    free = [np.bincount(of, weights=left <= cut_mm(threshold), minlength=cohorts) for threshold in THRESHOLDS]
    return n, np.stack(free, axis=1) / n[:, None]
