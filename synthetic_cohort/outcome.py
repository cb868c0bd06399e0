"""What a side's values do to what is left and to infection: the model's two equations, without any chance in them.

Cohorts draw from these functions and truth is worked out from them, so that the two cannot part.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from registry.schema.errors import GravelbookError
from synthetic_cohort.draws import Columns, scores
from synthetic_cohort.parameters import (
    REFERENCE_BURDEN_MM,
    REFERENCE_DENSITY_HU,
    REFERENCE_RATIO,
    REFERENCE_YEAR,
    Parameters,
)

FLEXIBLE, SEMIRIGID, PERCUTANEOUS, MINI, SHOCK_WAVE = range(5)
TECHNIQUES = ("flexible", "semirigid", "percutaneous", "mini_percutaneous", "shock_wave")

STEP_MM = 0.5
"""What is left is known to half a millimetre, rounded up: "at most 2 mm" and "under 2 mm" are different events."""

THRESHOLDS = ("0", "lt2", "2", "lt4", "4")


def cut_mm(threshold: str) -> float:
    """The largest size, of those that occur, that a threshold allows: 2 for "2", 1.5 for "lt2", 0 for "0".

    Raises:
        GravelbookError: it is not a threshold; 0 to 4 mm are known exactly, larger ones are not.
    """
    text = threshold.removeprefix("lt")
    try:
        limit = float(text)
    except ValueError:
        limit = -1.0
    below = threshold.startswith("lt")
    if not 0 <= limit <= 4 or limit % STEP_MM or (below and limit == 0):
        raise GravelbookError(
            f"The threshold {threshold!r} has no known true value. Use a multiple of {STEP_MM} mm from 0 to 4, "
            "with 'lt' in front for 'less than': for example 0, lt2, 2, lt4 or 4."
        )
    return limit - STEP_MM if below else limit


def free_log_odds(parameters: Parameters, sides: Mapping[str, NDArray[Any]]) -> NDArray[np.float64]:
    """Log odds that no fragment is left on a side that was not abandoned; add cut / scale for a threshold.

    Args:
        parameters: the coefficients.
        sides: columns technique, ratio (NaN without a sheath), suction, burden_mm, density_hu, lower_pole, year,
            operator, patient_effect.
    """
    p = parameters
    technique, ratio = sides["technique"], sides["ratio"]
    by_technique = np.array([0.0, p.free_semirigid, p.free_percutaneous, p.free_mini, p.free_shock_wave])
    room = (np.minimum(ratio, p.ratio_plateau) - min(REFERENCE_RATIO, p.ratio_plateau)) * 10
    no_sheath = np.where(technique == FLEXIBLE, p.free_without_sheath, 0.0)
    total: NDArray[np.float64] = (
        p.free_log_odds
        + by_technique[technique]
        + np.where(np.isnan(ratio), no_sheath, p.free_per_tenth_ratio * room)
        + p.free_suction * sides["suction"]
        + p.free_per_10mm / 10 * (sides["burden_mm"] - REFERENCE_BURDEN_MM)
        + p.free_per_100hu / 100 * (sides["density_hu"] - REFERENCE_DENSITY_HU)
        + p.free_lower_pole * sides["lower_pole"]
        + p.free_per_year * (sides["year"] - REFERENCE_YEAR)
        + p.operator_sd * scores(p.operators)[sides["operator"]]
        + p.patient_sd * sides["patient_effect"]
    )
    return total


def residual_mm(
    parameters: Parameters, log_odds: NDArray[np.float64], noise: NDArray[np.float64], largest_mm: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The longest fragment left, in mm: one latent size cut at 0, rounded up, never above the largest stone.

    The latent size is scale x (noise - log odds) with logistic noise, so that P(size <= t) has log odds
    ``log_odds + t / scale``. Stones measure at least 5 mm, so the last cut touches no threshold up to 4 mm.
    """
    latent = parameters.fragment_scale_mm * (noise - log_odds)
    stepped = np.ceil(np.maximum(latent, 0.0) / STEP_MM) * STEP_MM
    return np.minimum(stepped, largest_mm)


def infection_log_odds(parameters: Parameters, operations: Mapping[str, NDArray[Any]]) -> NDArray[np.float64]:
    """Log odds of an infection after an operation.

    Args:
        parameters: the coefficients.
        operations: columns tightest_ratio (NaN without a sheath: counts as the reference), culture_positive,
            pre_stented, diabetes, female, burden_mm (of both sides), suction, percutaneous, bilateral.
    """
    p = parameters
    ratio = operations["tightest_ratio"]
    tighter = np.where(np.isnan(ratio), 0.0, (REFERENCE_RATIO - ratio) * 10)
    positive = operations["culture_positive"]
    total: NDArray[np.float64] = (
        p.infection_log_odds
        + (p.infection_per_tenth_tighter + p.infection_tight_and_positive * positive) * tighter
        + p.infection_culture_positive * positive
        + p.infection_pre_stented * operations["pre_stented"]
        + p.infection_diabetes * operations["diabetes"]
        + p.infection_female * operations["female"]
        + p.infection_per_10mm / 10 * (operations["burden_mm"] - REFERENCE_BURDEN_MM)
        + p.infection_suction * operations["suction"]
        + p.infection_percutaneous * operations["percutaneous"]
        + p.infection_bilateral * operations["bilateral"]
    )
    return total


def operation_columns(
    first: NDArray[np.int64], second: NDArray[np.int64], sides: Columns, operations: Columns
) -> Columns:
    """The columns of ``infection_log_odds``. ``first``, ``second``: each operation's sides, alike when there is one."""
    both = second != first
    technique = sides["technique"]
    percutaneous = (technique == PERCUTANEOUS) | (technique == MINI)
    burden = sides["burden_mm"]
    return {
        "tightest_ratio": np.fmin(sides["ratio"][first], sides["ratio"][second]),
        "culture_positive": operations["culture_positive"],
        "pre_stented": sides["pre_stented"][first] | sides["pre_stented"][second],
        "diabetes": operations["diabetes"],
        "female": operations["female"],
        "burden_mm": burden[first] + np.where(both, burden[second], 0.0),
        "suction": sides["suction"][first] | sides["suction"][second],
        "percutaneous": percutaneous[first] | percutaneous[second],
        "bilateral": both,
    }
