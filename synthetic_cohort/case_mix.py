"""Who comes with which stones, and which technique and equipment is chosen for them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from synthetic_cohort.draws import Columns, expit, logit, ordered, pick, scores
from synthetic_cohort.outcome import FLEXIBLE, MINI, PERCUTANEOUS, SEMIRIGID, SHOCK_WAVE, STEP_MM
from synthetic_cohort.parameters import REFERENCE_BURDEN_MM, REFERENCE_YEAR, Parameters

SHEATHS_TENTHS_FR = np.array([100, 110, 120])
SCOPES_TENTHS_FR = np.array([75, 85, 95])
LARGE_MM = 20.0
SMALLEST_LARGEST_MM = 5.0
LONGEST_BURDEN_MM = 70.0
LARGEST_SHARE = np.array([1.0, 0.65, 0.5])
"""Share of the burden that the largest of one, two or three stones has."""


def people(parameters: Parameters, rng: np.random.Generator, size: int) -> Columns:
    """Patients as they are on the day of their first operation."""
    p = parameters
    uniform, normal = rng.random((6, size)), rng.standard_normal((3, size))
    died = uniform[3] < p.share_died
    return {
        "age": np.clip(np.rint(p.age_mean + p.age_sd * normal[0]), 18, 92).astype(np.int64),
        "female": uniform[0] < p.share_female,
        "body_mass": np.clip(p.body_mass_mean + p.body_mass_sd * normal[1], 17.5, 52.0),
        "diabetes": uniform[1] < p.share_diabetes,
        "recurrent": uniform[2] < p.share_recurrent,
        "patient_effect": normal[2],
        "research": pick(uniform[5], [p.share_research_refused, p.share_research_not_asked]),
        # Days from the first operation to death; 0 for those who live on.
        "died_after": np.where(died, 20 + np.floor(280 * uniform[4]), 0).astype(np.int64),
    }


def first_sides(
    parameters: Parameters, rng: np.random.Generator, patient: NDArray[np.int64], people: Columns
) -> Columns:
    """The sides of first operations: stones and what else stands before access. ``patient``: whose side it is."""
    p, size = parameters, len(patient)
    uniform, normal = rng.random((5, size)), rng.standard_normal((2, size))
    ureteric = uniform[0] < p.share_ureteric
    burden = p.burden_median_mm * np.exp(p.burden_log_sd * normal[0]) * np.where(ureteric, 0.6, 1.0)
    burden = np.clip(np.round(burden / STEP_MM) * STEP_MM, SMALLEST_LARGEST_MM, LONGEST_BURDEN_MM)
    stones = np.where(ureteric, 1, 1 + pick(uniform[1], [0.6, 0.25]))
    largest = burden * LARGEST_SHARE[stones - 1]
    stones = np.where(largest < SMALLEST_LARGEST_MM, 1, stones)
    largest = np.ceil(burden * LARGEST_SHARE[stones - 1] / STEP_MM) * STEP_MM
    return {
        "burden_mm": burden,
        "largest_mm": largest,
        "stones": stones,
        "density_hu": np.clip(np.rint(p.density_mean_hu + p.density_sd_hu * normal[1]), 250, 1750),
        "ureteric": ureteric,
        "lower_pole": ~ureteric & (uniform[2] < p.share_lower_pole),
        "pre_stented": uniform[3] < p.share_pre_stented,
        "patient_effect": people["patient_effect"][patient],
        "age": people["age"][patient],
        "female": people["female"][patient],
    }


def technique(
    parameters: Parameters, rng: np.random.Generator, sides: Columns, *, again: bool = False
) -> NDArray[np.int64]:
    """The technique of each side; ``again``: a stage or a retreatment, which is ureteroscopy in this unit."""
    p = parameters
    uniform = rng.random((3, len(sides["burden_mm"])))
    burden, ureteric = sides["burden_mm"], sides["ureteric"]
    chosen = np.where(ureteric & (uniform[0] < p.share_semirigid_if_ureteric), SEMIRIGID, FLEXIBLE)
    if again:
        return chosen
    large = ~ureteric & (burden >= LARGE_MM) & (uniform[0] < p.share_percutaneous_if_large)
    chosen = np.where(large, np.where(uniform[1] < p.share_mini_if_percutaneous, MINI, PERCUTANEOUS), chosen)
    waves = (chosen == FLEXIBLE) & (burden < 15) & (uniform[2] < p.share_shock_wave)
    return np.where(waves, SHOCK_WAVE, chosen)


def equipment(parameters: Parameters, rng: np.random.Generator, sides: Columns) -> Columns:
    """Sheath, scope and suction of each side: by age, sex, burden, operator and year, or by lot (confounding 0).

    Returns:
        Columns sheath_first (the size tried first), sheath (the size in place during lithotripsy) and scope, in tenths
        of Fr and 0 for none; ratio (NaN without a sheath); suction.
    """
    p, k = parameters, parameters.confounding
    flexible = sides["technique"] == FLEXIBLE
    uniform = rng.random((5, len(flexible)))
    skill = scores(p.operators)[sides["operator"]]
    more_burden = (sides["burden_mm"] - REFERENCE_BURDEN_MM) / 10
    years = sides["year"] - REFERENCE_YEAR
    male = ~sides["female"]
    wider = k * (
        p.wide_sheath_per_10_years / 10 * (sides["age"] - p.age_mean)
        + p.wide_sheath_male * (male - (1 - p.share_female))
        + p.wide_sheath_per_10mm * more_burden
        + p.wide_sheath_pre_stented * (sides["pre_stented"] - p.share_pre_stented)
        + p.wide_sheath_operator * skill
    )
    slimmer = k * (
        p.slim_scope_per_year * years
        + p.slim_scope_female * (sides["female"] - p.share_female)
        + p.slim_scope_per_10mm * more_burden
        + p.slim_scope_operator * skill
    )
    sheathed = flexible & (uniform[0] >= p.share_without_sheath)
    wanted = ordered(wider, uniform[1], p.share_sheath_10, p.share_sheath_12)
    scope = np.where(
        flexible, SCOPES_TENTHS_FR[2 - ordered(slimmer, uniform[2], p.share_scope_95, p.share_scope_75)], 0
    )
    # A stented ureter lets a third as many sheaths fail; the next try is the narrowest.
    fails = uniform[3] < p.share_sheath_fails * np.where(sides["pre_stented"], 1 / 3, 1.0)
    placed = np.where(fails, 0, wanted)
    sheath = np.where(sheathed, SHEATHS_TENTHS_FR[placed], 0)
    drawn = logit(p.share_suction) + k * (
        p.suction_per_year * years + p.suction_per_10mm * more_burden + p.suction_operator * skill
    )
    return {
        "sheath_first": np.where(sheathed, SHEATHS_TENTHS_FR[wanted], 0),
        "sheath": sheath,
        "scope": scope,
        "ratio": np.where(sheathed, sheath / np.where(flexible, scope, 1), np.nan),
        "suction": sheathed & (uniform[4] < expit(drawn)),
    }
