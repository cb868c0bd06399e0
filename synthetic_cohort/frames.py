"""Draws a cohort: plain columns of patients, operations, sides, examinations and readings, whose truth is known.

The workbook's records and the frames for simulation studies are both made from what is drawn here, so that the same
seed gives the same patients in either shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from registry.schema.errors import GravelbookError
from synthetic_cohort import case_mix, imaging
from synthetic_cohort.aftermath import aftermath
from synthetic_cohort.draws import Columns, expit, generators, logit, named_generator, pick, working_days, year_of
from synthetic_cohort.outcome import free_log_odds, infection_log_odds, operation_columns, residual_mm
from synthetic_cohort.parameters import REFERENCE_BURDEN_MM, REFERENCE_RATIO, Parameters
from synthetic_cohort.scanned import before_death, scans

ABANDONED, NOT_STARTED, NO_STONE, COMPLETED = range(4)
CONDUCT = ("abandoned", "not_started", "no_stone_found", "completed")
INDEX, PLANNED, AUXILIARY = range(3)
KINDS = ("index", "planned", "auxiliary")
AUXILIARY_DAYS = 90
RETREATED_ABOVE_MM = 4.0
NEVER = np.datetime64("2200-01-01", "D")


@dataclass(frozen=True)
class Cohort:
    """What was drawn. Each attribute is a table by columns; links are row numbers of the other table.

    patients: age (at the first operation), female, body_mass, diabetes, recurrent, patient_effect, research (0 refused,
        1 not asked, 2 agreed), died_on (NEVER for the living), birth_year.
    operations: patient, on, year, operator, removal (false: drainage only), culture_positive, planned_staged,
        first_side, second_side (the same when there is one side), minutes, operated, infection, sepsis,
        infection_known, reviewed, review_on, scanned, what ``scan_log_odds`` and ``infection_log_odds`` read, and what
        ``aftermath`` adds: days_ahead (to the patient's next operation or death), worst_30 and worst_90 (the true worst
        grade within 30 and 90 days), complicated, egfr_before, egfr_change.
    sides: patient, operation, left (the side), intended, conduct, kind, course (0 none), stage (-1 blank), parent (the
        first side that a later one treats again, else -1), next_on (the next stone operation on it), burden_mm,
        largest_mm, stones, density_hu, ureteric, lower_pole, pre_stented, technique, sheath_first, sheath, scope,
        ratio, suction, log_odds, residual_mm (the truth), fragments, judged_left.
    examinations: operation, on, day, modality, slice_mm.
    readings: examination, side, finding, seen_mm.
    second_readings: reading (the one of the same examination and side), finding, seen_mm.
    complications: operation, kind (a place in ``KINDS``, or ``INFECTION``), day of onset, grade (a place in ``GRADES``;
        0: written down and none), organs, known (to the unit), to_the_month, first_grade, second_grade (0 not given),
        lingers, came_back (a uniform draw).
    """

    parameters: Parameters
    size: int
    seed: int
    patients: Columns
    operations: Columns
    sides: Columns
    examinations: Columns
    readings: Columns
    second_readings: Columns
    complications: Columns

    def frame(self, table: str) -> pd.DataFrame:
        """One of the tables as a data frame."""
        return pd.DataFrame(getattr(self, table))


def cohort(parameters: Parameters, size: int, seed: int) -> Cohort:
    """Draw a cohort.

    Args:
        parameters: the truth.
        size: the number of operations, stages and retreatments included.
        seed: the same seed gives the same cohort.

    Raises:
        GravelbookError: size is not a positive whole number, or the seed is negative.
    """
    if size < 1 or seed < 0:
        raise GravelbookError(
            f"A cohort of {size} operations with seed {seed} cannot be drawn. Give at least 1 operation and a seed "
            "of 0 or above."
        )
    rng, _ = generators(seed)
    patients = case_mix.people(parameters, rng, size)
    operations, sides = _first_operations(parameters, rng, patients)
    later = _later(parameters, rng, patients, operations, sides)
    kept = _whole_patients(sides["patient"][later["parent"]], size)
    if not kept.all():
        patients, operations, sides, later = _only(kept, patients, operations, sides, later)
    operations, sides = _with_later(parameters, rng, patients, operations, sides, later)
    _finish_operations(parameters, rng, patients, operations, sides)
    examined, readings = scans(parameters, rng, patients, operations, sides)
    complications = aftermath(parameters, seed, patients, operations)
    examined, readings = before_death(patients, operations, examined, readings)
    second = imaging.read_again(parameters, named_generator(seed, "second readers"), sides, examined, readings)
    return Cohort(parameters, size, seed, patients, operations, sides, examined, readings, second, complications)


def _first_operations(parameters: Parameters, rng: np.random.Generator, patients: Columns) -> tuple[Columns, Columns]:
    p, size = parameters, len(patients["age"])
    uniform = rng.random((5, size))
    days = working_days(p.first_day, p.last_day)
    on = np.sort(days[(uniform[0] * len(days)).astype(np.int64)])
    year = year_of(on)
    patients["birth_year"] = year - patients["age"]
    died = patients["died_after"]
    patients["died_on"] = np.where(died > 0, on + died.astype("timedelta64[D]"), NEVER)
    removal = uniform[2] >= p.share_drainage
    both = (removal & (uniform[1] < p.share_bilateral)).astype(np.int64)
    first = np.arange(size) + np.cumsum(both) - both
    patient = np.repeat(np.arange(size), 1 + both)
    operator = (uniform[3] * p.operators).astype(np.int64)
    operations = {
        "patient": np.arange(size),
        "on": on,
        "year": year,
        "operator": operator,
        "removal": removal,
        "first_side": first,
        "second_side": first + both,
        "staging": uniform[4],
    }
    sides = case_mix.first_sides(p, rng, patient, patients)
    size = len(patient)
    second = np.arange(size) != first[patient]
    left = rng.random(size) < 0.5
    left[second] = ~left[first[patient[second]]]
    blank = np.zeros(size, dtype=np.int64)
    sides |= {
        "patient": patient,
        "operation": patient,
        "left": left,
        "operator": operator[patient],
        "year": year[patient],
        "kind": blank,
        "course": removal[patient].astype(np.int64),
        "stage": np.where(removal[patient], 0, -1),
        "parent": blank - 1,
    }
    _treat(p, rng, sides, removal[patient])
    return operations, sides


def _treat(
    parameters: Parameters, rng: np.random.Generator, sides: Columns, removal: NDArray[np.bool_], *, again: bool = False
) -> None:
    """Add to the sides how they were treated and what was left."""
    p, size = parameters, len(removal)
    sides["technique"] = case_mix.technique(p, rng, sides, again=again)
    chosen = case_mix.equipment(p, rng, sides)
    uniform = rng.random((4, size))
    conduct = pick(uniform[0], [p.share_abandoned, p.share_not_started, p.share_no_stone])
    # A stage or retreatment is for what a scan has shown: it is started and finds its stone.
    conduct = np.where(removal & (~np.isin(conduct, (NOT_STARTED, NO_STONE)) | (not again)), conduct, COMPLETED)
    opened = removal & (conduct != NOT_STARTED)
    for name in ("sheath_first", "sheath", "scope"):
        chosen[name] = np.where(opened, chosen[name], 0)
    sides |= chosen
    sides["ratio"] = np.where(opened, chosen["ratio"], np.nan)
    sides["suction"] = chosen["suction"] & opened
    sides["conduct"] = conduct
    sides["intended"] = removal & ((conduct == COMPLETED) | (conduct == ABANDONED))
    sides["log_odds"] = free_log_odds(p, sides)
    left = residual_mm(p, sides["log_odds"], logit(uniform[1]), sides["largest_mm"])
    left = np.where(removal & (conduct == COMPLETED), left, np.where(conduct == NO_STONE, 0.0, sides["largest_mm"]))
    sides["residual_mm"] = left
    sides["fragments"] = np.where(left > 0, 1 + pick(uniform[2], [0.55, 0.25, 0.12]), 0)
    sides["judged_left"] = np.where(left > 0, uniform[3] < p.surgeon_sensitivity, uniform[3] >= p.surgeon_specificity)


def _later(
    parameters: Parameters, rng: np.random.Generator, patients: Columns, operations: Columns, sides: Columns
) -> Columns:
    """Which first sides are treated again, when and as what."""
    p = parameters
    uniform = rng.random((3, len(sides["patient"])))
    operation = sides["operation"]
    large = (sides["burden_mm"] >= case_mix.LARGE_MM) & ~sides["ureteric"] & sides["intended"]
    planned = large & (operations["staging"][operation] < p.share_planned_if_large)
    sides["planned"] = planned
    failed = sides["intended"] & (sides["residual_mm"] > RETREATED_ABOVE_MM)
    waiting = ~operations["removal"][operation] | (sides["conduct"] == NOT_STARTED)
    stage = failed & planned
    again = (stage | (failed & ~planned & (uniform[0] < p.share_retreated))) | (waiting & (uniform[0] < 0.8))
    gap = np.where(failed & ~planned, 20 + np.floor(160 * uniform[1]), 14 + np.floor(46 * uniform[1])).astype(np.int64)
    # Nobody operates at the weekend: the next Monday. The first day of 1970 was a Thursday.
    on = operations["on"][operation] + gap.astype("timedelta64[D]")
    weekday = (on.astype(np.int64) + 3) % 7
    on = on + np.where(weekday > 4, 7 - weekday, 0).astype("timedelta64[D]")
    again &= (on <= np.datetime64(p.last_day, "D")) & (on < patients["died_on"][sides["patient"]])
    parent = np.flatnonzero(again)
    days = (on - operations["on"][operation]).astype(np.int64)
    kind = np.where(stage, PLANNED, np.where(failed & (days <= AUXILIARY_DAYS), AUXILIARY, INDEX))
    stented = waiting | (uniform[2] < 0.55)
    return {"parent": parent, "on": on[parent], "kind": kind[parent], "pre_stented": stented[parent]}


def _whole_patients(later_of: NDArray[np.int64], size: int) -> NDArray[np.bool_]:
    """The patients, each with all of their operations, who make up ``size`` operations.

    The first patients in order of date, as many as fit; a gap of an operation or two at the end is filled with the
    next patients who had one operation.
    """
    each = 1 + np.bincount(later_of, minlength=size)
    total = np.cumsum(each)
    kept = total <= size
    lacking = size - int(total[kept][-1]) if kept.any() else size
    if lacking:
        kept[np.flatnonzero(~kept & (each == 1))[:lacking]] = True
    return kept


def _only(
    kept: NDArray[np.bool_], patients: Columns, operations: Columns, sides: Columns, later: Columns
) -> tuple[Columns, Columns, Columns, Columns]:
    """The tables with the kept patients only, their links renumbered."""
    number = np.cumsum(kept) - 1
    side_kept = kept[sides["patient"]]
    side_number = np.cumsum(side_kept) - 1
    later_kept = side_kept[later["parent"]]
    patients = {name: values[kept] for name, values in patients.items()}
    operations = {name: values[kept] for name, values in operations.items()}
    sides = {name: values[side_kept] for name, values in sides.items()}
    later = {name: values[later_kept] for name, values in later.items()}
    operations["patient"] = number[operations["patient"]]
    for name in ("patient", "operation"):
        sides[name] = number[sides[name]]
    for name in ("first_side", "second_side"):
        operations[name] = side_number[operations[name]]
    later["parent"] = side_number[later["parent"]]
    return patients, operations, sides, later


def _with_later(
    parameters: Parameters,
    rng: np.random.Generator,
    patients: Columns,
    operations: Columns,
    sides: Columns,
    later: Columns,
) -> tuple[Columns, Columns]:
    """First operations followed by the later ones, each of which treats one side."""
    parent, on = later["parent"], later["on"]
    first_operations, first_sides, many = len(operations["on"]), len(sides["patient"]), len(parent)
    sides["next_on"] = np.full(first_sides, NEVER)
    if not many:
        return operations, sides
    sides["next_on"][parent] = on
    patient, year = sides["patient"][parent], year_of(on)
    left = np.maximum(sides["residual_mm"][parent], case_mix.SMALLEST_LARGEST_MM)
    untouched = ~sides["intended"][parent]
    new: Columns = {n: sides[n][parent] for n in ("density_hu", "ureteric", "lower_pole", "patient_effect", "female")}
    new |= {
        "burden_mm": np.where(untouched, sides["burden_mm"][parent], left),
        "largest_mm": np.where(untouched, sides["largest_mm"][parent], left),
        "stones": np.where(untouched, sides["stones"][parent], 1),
        "pre_stented": later["pre_stented"],
        "age": year - patients["birth_year"][patient],
        "patient": patient,
        "operation": first_operations + np.arange(many),
        "left": sides["left"][parent],
        "operator": sides["operator"][parent],
        "year": year,
        "kind": later["kind"],
        "course": sides["course"][parent] + (later["kind"] == INDEX),
        "stage": np.array([0, 1, -1])[later["kind"]],
        "parent": parent,
        "planned": np.zeros(many, dtype=bool),
        "next_on": np.full(many, NEVER),
    }
    _treat(parameters, rng, new, np.ones(many, dtype=bool), again=True)
    more = {
        "patient": patient,
        "on": on,
        "year": year,
        "operator": new["operator"],
        "removal": np.ones(many, dtype=bool),
        "first_side": first_sides + np.arange(many),
        "second_side": first_sides + np.arange(many),
        "staging": np.ones(many),
    }
    operations = {name: np.concatenate([values, more[name]]) for name, values in operations.items()}
    return operations, {name: np.concatenate([values, new[name]]) for name, values in sides.items()}


def _finish_operations(
    parameters: Parameters, rng: np.random.Generator, patients: Columns, operations: Columns, sides: Columns
) -> None:
    """Add what belongs to a whole operation: culture, time, infection, and the draws of its review."""
    p, patient = parameters, operations["patient"]
    first, second = operations["first_side"], operations["second_side"]
    uniform, normal = rng.random((6, len(patient))), rng.standard_normal(len(patient))
    operations["planned_staged"] = sides["planned"][first] | sides["planned"][second]
    operations["diabetes"], operations["female"] = patients["diabetes"][patient], patients["female"][patient]
    operations["age"] = operations["year"] - patients["birth_year"][patient]
    stented = sides["pre_stented"][first] | sides["pre_stented"][second]
    culture = (
        logit(p.share_culture_positive)
        + p.culture_female * operations["female"]
        + p.culture_diabetes * operations["diabetes"]
        + p.culture_pre_stented * stented
    )
    operations["culture_positive"] = uniform[0] < expit(culture)
    operations |= operation_columns(first, second, sides, operations)
    room = (np.nan_to_num(operations["tightest_ratio"], nan=REFERENCE_RATIO) - REFERENCE_RATIO) * 10
    minutes = p.minutes_median * np.exp(
        p.minutes_log_sd * normal
        + p.minutes_log_per_10mm / 10 * (operations["burden_mm"] - REFERENCE_BURDEN_MM)
        + p.minutes_log_per_tenth_ratio * room
    )
    operated = sides["intended"][first] | sides["intended"][second]
    operations["minutes"] = np.clip(np.rint(np.where(operated, minutes, 15 + 10 * uniform[1])), 8, 290).astype(np.int64)
    operations["infection"] = operated & (uniform[2] < expit(infection_log_odds(p, operations)))
    operations["sepsis"] = operations["infection"] & (uniform[3] < p.share_sepsis)
    operations["operated"] = operated
    operations["review_on"] = operations["on"] + (30 + np.floor(75 * uniform[1])).astype("timedelta64[D]")
    operations["review_draw"], operations["known_draw"] = uniform[4], uniform[5]
