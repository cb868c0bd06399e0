"""Who is scanned, how, when, and what the reader says of what is left."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from synthetic_cohort.draws import Columns, logit, pick, scores
from synthetic_cohort.parameters import REFERENCE_BURDEN_MM, REFERENCE_YEAR, Parameters

CT, ULTRASOUND, KUB, SECOND_LOOK = range(4)
MODALITIES = ("ct", "ultrasound", "kub", "second_look")
FIRST_SCAN_DAY, LAST_SCAN_DAY = 5, 200
NONE_SEEN, FRAGMENTS, INDETERMINATE = range(3)
FINDINGS = ("none_seen", "fragments", "indeterminate")
_PAIR = 3
_SLICES = np.array([1.0, 2.0, 3.0, 5.0])


def scan_log_odds(parameters: Parameters, operations: Columns) -> NDArray[np.float64]:
    """Log odds that an operation is followed by a scan.

    Args:
        parameters: the coefficients and the switch ``missingness``.
        operations: columns age, burden_mm, year, pre_stented, operator, and left_mm, the larger residual of the sides.
    """
    p = parameters
    base = np.full(len(operations["age"]), logit(p.share_scanned), dtype=np.float64)
    if p.missingness == "completely_random":
        return base
    # The habit of scanning is not the skill of operating, but the same operators have both.
    habit = np.roll(scores(p.operators), 1)[operations["operator"]]
    base = base + (
        p.scanned_per_10_years / 10 * (operations["age"] - p.age_mean)
        + p.scanned_per_10mm / 10 * (operations["burden_mm"] - REFERENCE_BURDEN_MM)
        + p.scanned_per_year * (operations["year"] - REFERENCE_YEAR)
        + p.scanned_pre_stented * (operations["pre_stented"] - p.share_pre_stented)
        + p.scanned_operator * habit
    )
    if p.missingness == "not_random":
        base = base + p.scanned_per_mm_left * np.minimum(operations["left_mm"], 6.0)
    result: NDArray[np.float64] = base
    return result


def examinations(
    parameters: Parameters, rng: np.random.Generator, operation: NDArray[np.int64], on: NDArray[Any]
) -> Columns:
    """One row a visit to the scanner: operation, day, modality, slice in mm (NaN unless CT).

    Args:
        parameters: shares and days.
        rng: the source of chance.
        operation: the operations that are scanned.
        on: their dates.
    """
    p, size = parameters, len(operation)
    uniform, normal = rng.random((5, size)), rng.standard_normal(size)
    after = np.clip(np.rint(p.scan_day_median * np.exp(p.scan_day_log_sd * normal)), FIRST_SCAN_DAY, LAST_SCAN_DAY)
    later = uniform[2] < p.share_later_scan
    later_after = np.minimum(after + 30 + np.floor(60 * uniform[3]), LAST_SCAN_DAY)
    later &= later_after > after
    kind = pick(uniform[0], [p.share_ct, p.share_ultrasound, p.share_kub, p.share_pair])
    slices = _SLICES[pick(uniform[1], [p.share_slice_1, p.share_slice_2, p.share_slice_3])]
    pair = kind == _PAIR
    modality = np.where(pair, ULTRASOUND, np.where(kind > _PAIR, SECOND_LOOK, kind))
    # Further scans are half CT, half ultrasound; the film of a pair is taken within ten days.
    film_after = np.minimum(after + np.floor(11 * uniform[4]), LAST_SCAN_DAY)
    rows = [np.arange(size), np.flatnonzero(pair), np.flatnonzero(later)]
    which = np.concatenate(rows)
    days = np.concatenate([after, film_after[rows[1]], later_after[rows[2]]])
    seen_by = np.concatenate(
        [modality, np.full(len(rows[1]), KUB), np.where(uniform[4][rows[2]] < 0.5, CT, ULTRASOUND)]
    )
    # A film and a further film of one operation can fall on one day only if both are of one kind, which never occurs.
    order = np.lexsort((seen_by, days, which))
    which, days, seen_by = which[order], days[order], seen_by[order]
    return {
        "operation": operation[which],
        "on": on[which] + days.astype("timedelta64[D]"),
        "day": days.astype(np.int64),
        "modality": seen_by,
        "slice_mm": np.where(seen_by == CT, slices[which], np.nan),
    }


def read(
    parameters: Parameters,
    rng: np.random.Generator,
    left_mm: NDArray[np.float64],
    modality: NDArray[np.int64],
    slice_mm: NDArray[np.float64],
) -> Columns:
    """What one reader says of one side: finding, and the longest fragment seen in mm (0 when none is).

    A fragment that is there is seen with the modality's sensitivity, whatever its size, and then measured right; on a
    clear side a fragment of 1 to 4 mm is seen where specificity fails.
    """
    sensitivity, specificity = accuracy(parameters)
    return _read(parameters, rng, left_mm, _kind(modality, slice_mm), sensitivity, specificity)


def read_again(
    parameters: Parameters, rng: np.random.Generator, sides: Columns, examined: Columns, readings: Columns
) -> Columns:
    """What a second reader says of some examinations, of every side that the first one read.

    Args:
        parameters: ``share_second_reading``, and ``second_accuracy``.
        rng: a source of its own.
        sides: column residual_mm.
        examined: columns modality and slice_mm; second looks have no second reader.
        readings: columns examination and side.

    Returns:
        reading (the first reader's), finding, seen_mm.
    """
    twice = (rng.random(len(examined["modality"])) < parameters.share_second_reading) & (
        examined["modality"] != SECOND_LOOK
    )
    reading = np.flatnonzero(twice[readings["examination"]])
    examination = readings["examination"][reading]
    kind = _kind(examined["modality"][examination], examined["slice_mm"][examination])
    left_mm = sides["residual_mm"][readings["side"][reading]]
    return {"reading": reading, **_read(parameters, rng, left_mm, kind, *second_accuracy(parameters))}


def _kind(modality: NDArray[np.int64], slice_mm: NDArray[np.float64]) -> NDArray[np.int64]:
    """The place in ``accuracy``."""
    kind: NDArray[np.int64] = np.where(
        modality == CT, np.searchsorted(_SLICES, np.nan_to_num(slice_mm, nan=1.0)), modality + 3
    )
    return kind


def _read(
    parameters: Parameters,
    rng: np.random.Generator,
    left_mm: NDArray[np.float64],
    kind: NDArray[np.int64],
    sensitivity: NDArray[np.float64],
    specificity: NDArray[np.float64],
) -> Columns:
    p, size = parameters, len(left_mm)
    uniform = rng.random((3, size))
    there = left_mm > 0
    shown = left_mm
    if p.reading_error:
        false_mm = 1.0 + 0.5 * np.floor(7 * uniform[1])
        shown = np.where(
            there,
            np.where(uniform[0] < sensitivity[kind], left_mm, 0.0),
            np.where(uniform[0] < specificity[kind], 0.0, false_mm),
        )
    unsure = uniform[2] < (p.share_indeterminate if p.reading_error else 0.0)
    finding = np.where(unsure, INDETERMINATE, np.where(shown > 0, FRAGMENTS, NONE_SEEN))
    return {"finding": finding, "seen_mm": np.where(unsure, 0.0, shown)}


def second_accuracy(parameters: Parameters) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sensitivity and specificity of second readers, in the order of ``accuracy``: errors are multiples of its own."""
    slack = parameters.second_reader_slack
    sensitivity, specificity = accuracy(parameters)
    return np.clip(1 - slack * (1 - sensitivity), 0, 1), np.clip(1 - slack * (1 - specificity), 0, 1)


def accuracy(parameters: Parameters) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sensitivity and specificity for CT of 1, 2, 3 and 5 mm, ultrasound, plain film, second look, in this order."""
    p = parameters
    sensitivity = [
        p.sensitivity_ct_1,
        p.sensitivity_ct_2,
        p.sensitivity_ct_3,
        p.sensitivity_ct_5,
        p.sensitivity_ultrasound,
        p.sensitivity_kub,
        p.sensitivity_second_look,
    ]
    specificity = [p.specificity_ct] * 4 + [p.specificity_ultrasound, p.specificity_kub, 1.0]
    return np.array(sensitivity), np.array(specificity)
