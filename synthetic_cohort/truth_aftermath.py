"""The true value of what is asked of complications, reviews, scopes, surgeons' judgement, readers and kidneys.

Where people enter, chance is left out as in ``truth``: each operation contributes its probability, so that what remains
of simulation error comes from the mix of people alone. What depends on no people is exact, with an error of 0.
"""

from __future__ import annotations

import math
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from registry.schema.errors import GravelbookError
from synthetic_cohort.aftermath import grade_chances, review_chances
from synthetic_cohort.complication_kinds import GRADES
from synthetic_cohort.draws import Columns, expit
from synthetic_cohort.frames import ABANDONED, NO_STONE
from synthetic_cohort.imaging import accuracy, second_accuracy
from synthetic_cohort.outcome import SHOCK_WAVE, cut_mm, infection_log_odds
from synthetic_cohort.parameters import Parameters
from synthetic_cohort.truth import POPULATION, SEED, TrueValue, population_of

Among = Literal["all", "operated", "reviewed"]
READ_WITH = ("ct 1 mm", "ct 2 mm", "ct 3 mm", "ct 5 mm", "ultrasound", "plain film", "second look")


def worst_grade(
    parameters: Parameters,
    grade: str,
    days: int = 30,
    among: Among = "all",
    *,
    population: int = POPULATION,
    seed: int = SEED,
) -> TrueValue:
    """Probability that the worst complication with onset within ``days`` of an operation has ``grade`` or more.

    The operation is the complication's main one: a complication that begins after the patient's next operation is that
    one's, and one that is said to have come after an earlier operation as well counts here for its main one alone
    (``share_also_after`` = 0 leaves those links out). Prolonged prophylaxis without infection, and planned stages, are
    no complications.

    Args:
        parameters: the truth.
        grade: I, II, IIIa, IIIb, IVa, IVb or V.
        days: since the operation.
        among: all operations; those ``operated`` on a stone; those ``reviewed``, which is what a complete case
            estimates: by the probability of a review, so exact unless ``review_missingness`` is not_random.
        population: operations simulated.
        seed: of the population.

    Raises:
        GravelbookError: the grade is none, or ``reviewed`` is asked for where reviews depend on what happened.
    """
    if grade not in GRADES[1:]:
        raise GravelbookError(
            f"There is no grade {grade!r}. Grades are {', '.join(GRADES[1:])}: give one of them as it is written here."
        )
    people = population_of(parameters, population, seed)
    chances = grade_chances(parameters, people.operations, GRADES.index(grade), days)
    if among == "all":
        return _mean(chances)
    if among == "operated":
        return _mean(chances[people.operations["operated"]])
    if parameters.review_missingness == "not_random":
        raise GravelbookError(
            "Where reviews depend on what happened, the rate among the reviewed has no exact true value. Ask for all "
            "operations, or set review_missingness to by_recorded."
        )
    return _weighted(chances, _reviewed(parameters, people.patients, people.operations))


def reviewed(parameters: Parameters, *, population: int = POPULATION, seed: int = SEED) -> TrueValue:
    """Probability that the later course of an operation is reviewed; nobody is reviewed after death."""
    people = population_of(parameters, population, seed)
    return _mean(_reviewed(parameters, people.patients, people.operations))


def scope_failure(parameters: Parameters, single_use: bool) -> TrueValue:
    """Probability that a flexible scope opened fails, at whatever stage; scopes opened in its place count. Exact."""
    return TrueValue(parameters.failure_single_use if single_use else parameters.failure_reusable, 0.0)


def judgement(
    parameters: Parameters,
    threshold: str = "0",
    *,
    dust_is_left: bool = False,
    population: int = POPULATION,
    seed: int = SEED,
) -> tuple[TrueValue, TrueValue]:
    """Sensitivity and specificity of the surgeon's judgement at the end, for fragments above a threshold.

    Of sides where removal was intended and that were judged: not abandoned, not treated by shock waves.

    Args:
        parameters: the truth.
        threshold: as of ``cut_mm``; the side is free at it or not.
        dust_is_left: "dust only" counts as something left; otherwise as clear.
        population: sides come from so many operations.
        seed: of the population.

    Raises:
        GravelbookError: the threshold has no exact truth.
    """
    p = parameters
    # A judgement of clear is "nothing" or "dust", whatever is there.
    clear = p.share_nothing_if_clear if dust_is_left else 1.0
    kept_if_left, kept_if_free = clear * (1 - p.surgeon_sensitivity), clear * p.surgeon_specificity
    sides = population_of(p, population, seed).sides
    judged = sides["intended"] & (sides["conduct"] != ABANDONED) & (sides["conduct"] != NO_STONE)
    judged &= sides["technique"] != SHOCK_WAVE
    log_odds = sides["log_odds"][judged]
    nothing = expit(log_odds)
    free = expit(log_odds + cut_mm(threshold) / p.fragment_scale_mm)
    called_clear = nothing * kept_if_free + (free - nothing) * kept_if_left
    return TrueValue(1 - kept_if_left, 0.0), _weighted(called_clear / free, free)


def reader_accuracy(parameters: Parameters, second: bool = False) -> dict[str, tuple[float, float]]:
    """Sensitivity and specificity of a reader, by what is read, for any fragment; exact, without indeterminate ones."""
    if not parameters.reading_error:
        return dict.fromkeys(READ_WITH, (1.0, 1.0))
    sensitivity, specificity = second_accuracy(parameters) if second else accuracy(parameters)
    return {name: (float(a), float(b)) for name, a, b in zip(READ_WITH, sensitivity, specificity, strict=True)}


def graders_agree(parameters: Parameters, *, population: int = POPULATION, seed: int = SEED) -> TrueValue:
    """Probability that first and second grader give one grade, of complications that both graded."""
    p = parameters
    grade = population_of(p, population, seed).complications["grade"]
    grade = grade[grade > 0]
    first, second = p.grader_error_first, p.grader_error_second
    # Both wrong and alike: always at the ends, where there is one way to err; half the time between.
    ends = (grade == 1) | (grade == len(GRADES) - 2)
    alike = (1 - first) * (1 - second) + first * second * np.where(ends, 1.0, 0.5)
    return _mean(np.where(grade == len(GRADES) - 1, 1.0, alike))


def filtration_change(parameters: Parameters, *, population: int = POPULATION, seed: int = SEED) -> TrueValue:
    """Mean change of the filtration rate, mL/min/1.73 m2, from before operations to weeks after."""
    p = parameters
    operations = population_of(p, population, seed).operations
    infected = np.where(operations["operated"], expit(infection_log_odds(p, operations)), 0.0)
    return _mean(p.egfr_change_mean + p.egfr_change_infection * infected)


def aftermath_truths(parameters: Parameters, *, population: int = POPULATION, seed: int = SEED) -> dict[str, TrueValue]:
    """The true values that the command prints, by name."""
    sized: dict[str, Any] = {"population": population, "seed": seed}
    found = {f"complication of grade {g} or more, 30 days": worst_grade(parameters, g, **sized) for g in GRADES[1:]}
    found["complication of any grade, 90 days"] = worst_grade(parameters, "I", 90, **sized)
    if parameters.review_missingness != "not_random":
        name = "complication of any grade, 30 days, among the reviewed"
        found[name] = worst_grade(parameters, "I", 30, "reviewed", **sized)
    found["later course reviewed"] = reviewed(parameters, **sized)
    found["graders agree"] = graders_agree(parameters, **sized)
    found["single-use scopes opened that fail"] = scope_failure(parameters, True)
    found["reusable scopes opened that fail"] = scope_failure(parameters, False)
    for threshold in ("0", "2", "4"):
        sensitivity, specificity = judgement(parameters, threshold, **sized)
        found[f"surgeon's judgement, sensitivity above {threshold} mm"] = sensitivity
        found[f"surgeon's judgement, specificity at {threshold} mm"] = specificity
    found["mean change of filtration, mL/min/1.73 m2"] = filtration_change(parameters, **sized)
    return found


def _reviewed(parameters: Parameters, patients: Columns, operations: Columns) -> NDArray[np.float64]:
    alive = operations["review_on"] < patients["died_on"][operations["patient"]]
    return np.where(alive, review_chances(parameters, operations), 0.0)


def _mean(chances: NDArray[np.float64]) -> TrueValue:
    return TrueValue(float(chances.mean()), float(chances.std() / math.sqrt(len(chances))))


def _weighted(values: NDArray[np.float64], weights: NDArray[np.float64]) -> TrueValue:
    """A weighted mean with its error by the delta method."""
    mean = float((values * weights).sum() / weights.sum())
    pulls = weights * (values - mean) / weights.mean()
    return TrueValue(mean, float(pulls.std() / math.sqrt(len(pulls))))
