"""Which operations are followed by examinations and readings, and which of them the patient lived to see."""

from __future__ import annotations

import numpy as np

from synthetic_cohort import imaging
from synthetic_cohort.draws import Columns, expit
from synthetic_cohort.parameters import Parameters


def scans(
    parameters: Parameters, rng: np.random.Generator, patients: Columns, operations: Columns, sides: Columns
) -> tuple[Columns, Columns]:
    """Examinations and their readings; a side is read until its next operation, a patient until death."""
    first, second = operations["first_side"], operations["second_side"]
    intended = sides["intended"]
    operations["left_mm"] = np.maximum(sides["residual_mm"][first], sides["residual_mm"][second])
    drawn = rng.random(len(first)) < expit(imaging.scan_log_odds(parameters, operations))
    operations["scanned"] = drawn & (intended[first] | intended[second])
    scanned = np.flatnonzero(operations["scanned"])
    examined = imaging.examinations(parameters, rng, scanned, operations["on"][scanned])
    of, on = examined["operation"], examined["on"]
    both = np.flatnonzero(first[of] != second[of])
    examination = np.concatenate([np.arange(len(of)), both])
    side = np.concatenate([first[of], second[of[both]]])
    readable = (on[examination] < sides["next_on"][side]) & (on < patients["died_on"][operations["patient"][of]])[
        examination
    ]
    readable &= intended[side]
    examination, side = examination[readable], side[readable]
    read = imaging.read(
        parameters,
        rng,
        sides["residual_mm"][side],
        examined["modality"][examination],
        examined["slice_mm"][examination],
    )
    used = np.bincount(examination, minlength=len(of)) > 0
    examined = {name: values[used] for name, values in examined.items()}
    number = np.cumsum(used) - 1
    return examined, {"examination": number[examination], "side": side, **read}


def before_death(
    patients: Columns, operations: Columns, examined: Columns, readings: Columns
) -> tuple[Columns, Columns]:
    """The examinations and readings of the living: those who died of a complication had been drawn as if they lived."""
    alive = examined["on"] < patients["died_on"][operations["patient"][examined["operation"]]]
    if alive.all():
        return examined, readings
    read = alive[readings["examination"]]
    number = np.cumsum(alive) - 1
    readings = {name: values[read] for name, values in readings.items()}
    readings["examination"] = number[readings["examination"]]
    return {name: values[alive] for name, values in examined.items()}, readings
