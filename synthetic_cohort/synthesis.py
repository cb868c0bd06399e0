"""Makes a cohort on request, writes its files, and says what was made."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from registry.schema.errors import GravelbookError
from synthetic_cohort.frames import Cohort, cohort
from synthetic_cohort.parameters import Parameters, described, read_parameters, with_changes
from synthetic_cohort.records import records
from synthetic_cohort.story import Rows
from synthetic_cohort.truth import POPULATION, TrueValue, estimands, true_values
from synthetic_cohort.truth_aftermath import aftermath_truths
from synthetic_cohort.workbook import write_workbook

DEMO_OPERATIONS = 1500
DEMO_SEED = 1


def demo_parameters() -> Parameters:
    """The truth of the demo: large stones go through the skin more often than by default, and do better there than they
    would through a ureteroscope, so that a crude comparison of the techniques points the wrong way.
    """
    return Parameters(share_percutaneous_if_large=0.75, share_mini_if_percutaneous=0.75, free_mini=1.5)


def demo_records(seed: int = DEMO_SEED, operations: int = DEMO_OPERATIONS) -> Rows:
    """The rows of the Larkspur Bay demo, by table: its parameters, and the hand-written awkward patients.

    Args:
        seed: another seed gives another unit with the same truth; the awkward patients stay as they are.
        operations: of the cohort; the awkward patients' operations and the second looks come on top.
    """
    return records(cohort(demo_parameters(), operations, seed), awkward=True)


@dataclass(frozen=True)
class Made:
    """A cohort, its rows, its truth."""

    cohort: Cohort
    rows: Rows
    truth: Mapping[str, TrueValue]
    more_truth: Mapping[str, TrueValue]

    def write(self, output: Path, truth: Path | None) -> None:
        """Write the workbook and, when asked for, the truth.

        Raises:
            GravelbookError: a file cannot be written.
        """
        write_workbook(self.rows, output)
        if truth is None:
            return
        try:
            truth.write_text(self.as_json(), encoding="utf-8")
        except OSError as problem:
            raise GravelbookError(
                f"The file of true values {truth} cannot be written: {problem.strerror}. Choose another place."
            ) from problem

    def as_json(self) -> str:
        """True values with their simulation error and their definition, seed and parameters, as JSON."""
        asked = estimands()
        body: dict[str, Any] = {
            "seed": self.cohort.seed,
            "operations": self.cohort.size,
            "population": POPULATION,
            "true_values": [
                {"name": name, "value": true.value, "error": true.error, "estimand": asdict(asked[name])}
                for name, true in self.truth.items()
            ],
            "more_true_values": [
                {"name": name, "value": true.value, "error": true.error} for name, true in self.more_truth.items()
            ],
            "parameters": described(self.cohort.parameters),
        }
        return json.dumps(body, indent=1, default=_plain) + "\n"


def _plain(value: Any) -> str:
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{value!r} cannot be written as JSON")


def make(operations: int, seed: int, missing: str | None, parameter_file: Path | None, awkward: bool) -> Made:
    """A cohort with its rows and its truth.

    Args:
        operations: how many.
        seed: of the cohort.
        missing: the switch ``missingness``; None keeps that of the parameters.
        parameter_file: a TOML file of parameters; None for the defaults.
        awkward: add the hand-written patients.

    Raises:
        GravelbookError: the parameters cannot be used.
    """
    parameters = read_parameters(parameter_file) if parameter_file else Parameters()
    if missing is not None:
        parameters = with_changes(parameters, {"missingness": missing})
    drawn = cohort(parameters, operations, seed)
    truth, more_truth = true_values(parameters), aftermath_truths(parameters)
    return Made(drawn, records(drawn, awkward=awkward), truth, more_truth)


def report(made: Made, output: Path) -> str:
    """What was made and the true values, in words."""
    drawn, rows = made.cohort, made.rows
    scanned = int(drawn.operations["scanned"].sum())
    lines = [
        f"{output}: {len(rows['patient'])} patients, {len(rows['operation'])} operations, "
        f"{len(rows['treated_side'])} treated sides, {sum(map(len, rows.values()))} rows.",
        f"Seed {drawn.seed}. Scans missing: {drawn.parameters.missingness.replace('_', ' ')}; "
        f"{scanned} of {drawn.size} operations scanned.",
        "Second looks stand in the workbook as diagnostic operations beyond the number asked for.",
        "",
        "True values (simulation error in brackets):",
    ]
    told = {**made.truth, **made.more_truth}
    width = max(map(len, told))
    lines += [f"  {name:<{width}}  {true.value:8.4f} ({true.error:.4f})" for name, true in told.items()]
    return "\n".join(lines)
