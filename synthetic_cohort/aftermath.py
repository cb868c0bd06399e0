"""What happens after operations: complications, who is reviewed, and the kidneys' function.

Drawn from sources of their own, after everything else, so that nothing else moves. Complications are drawn from
``grade_chances``' own parts, and truth is worked out from it, so that the two cannot part.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from synthetic_cohort.complication_kinds import (
    FATAL,
    II,
    INFECTION,
    INFECTION_DAYS,
    IVA,
    IVB,
    KINDS,
    NONE,
    I,
    V,
    base_shares,
)
from synthetic_cohort.draws import Columns, expit, logit, named_generator, scores
from synthetic_cohort.kidney import bend
from synthetic_cohort.outcome import infection_log_odds
from synthetic_cohort.parameters import REFERENCE_BURDEN_MM, REFERENCE_YEAR, Parameters

LONG_AHEAD_D = 20_000
"""More days than any complication takes: the patient has no later operation, and lives on."""

FURTHEST_SPREADS = 2.2
"""The change of filtration lies within so many spreads of its mean."""

_FIRST = np.array([kind.first_day for kind in KINDS])
_LAST = np.array([kind.last_day for kind in KINDS])
_GRADE = np.array([kind.grade for kind in KINDS] + [II])
_ORGANS = np.array([kind.organs for kind in KINDS] + [0])
_INFECTION_DAYS = np.array(INFECTION_DAYS)


def days_until_next(operations: Columns, died_on: NDArray[np.datetime64]) -> NDArray[np.int64]:
    """Days from each operation to its patient's next one or death, whichever comes first.

    A complication of the operation begins before that: one that begins later is another operation's, or nobody's.
    """
    patient, on = operations["patient"], operations["on"]
    order = np.lexsort((on, patient))
    end = died_on[patient]
    same = patient[order][1:] == patient[order][:-1]
    following = np.minimum(end[order][:-1], np.where(same, on[order][1:], end[order][:-1]))
    end = end.copy()
    end[order[:-1]] = following
    return (end - on).astype(np.int64)


def kind_chances(parameters: Parameters, operations: Columns) -> NDArray[np.float64]:
    """Probability of each kind (row) after each operation (column), whenever it begins.

    Args:
        parameters: shares and effects.
        operations: columns percutaneous, age, burden_mm (of both sides), diabetes, days_ahead.
    """
    p = parameters
    shares = base_shares(p)
    pushed = np.exp(
        p.complication_per_10_years / 10 * (operations["age"] - p.age_mean)
        + p.complication_per_10mm / 10 * (operations["burden_mm"] - REFERENCE_BURDEN_MM)
        + p.complication_diabetes * operations["diabetes"]
    )
    odds = (shares / np.maximum(1 - shares, 1e-12)).T[operations["percutaneous"].astype(np.int64)].T * pushed
    chances: NDArray[np.float64] = odds / (1 + odds)
    # Nobody dies of a complication of an operation after which they came again, or had died of something else.
    chances[FATAL] = p.share_died_of_complication * (operations["days_ahead"] > LONG_AHEAD_D)
    return chances


def grade_chances(parameters: Parameters, operations: Columns, grade: int, days: int) -> NDArray[np.float64]:
    """Probability that an operation's worst complication with onset within ``days`` has ``grade`` or more. Exact.

    Args:
        parameters: the truth.
        operations: columns of ``kind_chances`` and of ``infection_log_odds``, and operated.
        grade: place in ``GRADES``, from 1.
        days: since the operation, the day itself being 0.
    """
    p = parameters
    last = np.minimum(days, operations["days_ahead"] - 1)
    chances = kind_chances(p, operations)
    spared = np.ones(len(last))
    for number, kind in enumerate(KINDS):
        if kind.grade >= grade and kind.grade > NONE:
            in_time = np.clip((last - kind.first_day + 1) / (kind.last_day - kind.first_day + 1), 0, 1)
            spared *= 1 - chances[number] * in_time
    infected = np.where(operations["operated"], expit(infection_log_odds(p, operations)), 0.0)
    # An infection always begins before the end: its day is drawn in where there is less room.
    in_time = (_INFECTION_DAYS[:, None] <= np.maximum(days, 0)).mean(axis=0)
    shock = p.share_sepsis * p.share_shock
    worse = {I: 1.0, II: 1.0, IVB: shock * p.share_shock_two_organs, V: 0.0}.get(grade, shock)
    spared *= 1 - infected * worse * in_time
    return 1 - spared


def review_chances(parameters: Parameters, operations: Columns) -> NDArray[np.float64]:
    """Probability that the later course of each operation is reviewed, if the patient lives to that day.

    Args:
        parameters: the coefficients and the switch ``review_missingness``.
        operations: columns age, year, percutaneous, culture_positive, operator; and complicated, a complication
            within 30 days.
    """
    p = parameters
    base = np.full(len(operations["age"]), logit(p.share_reviewed), dtype=np.float64)
    if p.review_missingness == "completely_random":
        return expit(base)
    habit = np.roll(scores(p.operators), 2)[operations["operator"]]
    base = base + (
        p.reviewed_per_10_years / 10 * (operations["age"] - p.age_mean)
        + p.reviewed_per_year * (operations["year"] - REFERENCE_YEAR)
        + p.reviewed_percutaneous * operations["percutaneous"]
        + p.reviewed_culture_positive * operations["culture_positive"]
        + p.reviewed_operator * habit
    )
    if p.review_missingness == "not_random":
        base = base + p.reviewed_complicated * operations["complicated"]
    return expit(base)


def aftermath(parameters: Parameters, seed: int, patients: Columns, operations: Columns) -> Columns:
    """Draw the complications, and add to operations and patients what follows from them.

    Adds to operations days_ahead, worst_30 and worst_90 (places in ``GRADES``), complicated, reviewed,
    infection_known, egfr_before and egfr_change; changes died_on of the few who die of a complication.

    Args:
        parameters: the truth.
        seed: of the cohort.
        patients: the cohort's.
        operations: the cohort's, with review_on, review_draw and known_draw, uniform draws that it takes out.

    Returns:
        The table of complications, one row each, in order of operation and day; see ``Cohort``.
    """
    rng = named_generator(seed, "complications")
    operations["days_ahead"] = days_until_next(operations, patients["died_on"])
    rows = _drawn(parameters, rng, operations)
    _deaths(rng, patients, operations, rows)
    for days in (30, 90):
        worst = np.zeros(len(operations["on"]), dtype=np.int64)
        soon = rows["day"] <= days
        np.maximum.at(worst, rows["operation"][soon], rows["grade"][soon])
        operations[f"worst_{days}"] = worst
    operations["complicated"] = operations["worst_30"] > NONE
    alive = operations["review_on"] < patients["died_on"][operations["patient"]]
    reviewed = (operations.pop("review_draw") < review_chances(parameters, operations)) & alive
    operations["reviewed"] = reviewed
    told = reviewed | (operations.pop("known_draw") < parameters.share_unreviewed_known)
    operations["infection_known"] = operations["infection"] & told
    _known_and_graded(parameters, rng, rows, reviewed, operations["infection_known"])
    _kidneys(parameters, seed, patients, operations)
    return rows


def _drawn(parameters: Parameters, rng: np.random.Generator, operations: Columns) -> Columns:
    p, size = parameters, len(operations["on"])
    kind, operation = np.nonzero(rng.random((len(KINDS), size)) < kind_chances(p, operations))
    day = _FIRST[kind] + np.floor((_LAST - _FIRST + 1)[kind] * rng.random(len(kind))).astype(np.int64)
    kept = day < operations["days_ahead"][operation]
    infected = np.flatnonzero(operations["infection"])
    began = _INFECTION_DAYS[np.floor(len(_INFECTION_DAYS) * rng.random(len(infected))).astype(np.int64)]
    began = np.minimum(began, operations["days_ahead"][infected] - 1)
    uniform = rng.random((2, len(infected)))
    shock = operations["sepsis"][infected] & (uniform[0] < p.share_shock)
    two = shock & (uniform[1] < p.share_shock_two_organs)
    kind = np.concatenate([kind[kept], np.full(len(infected), INFECTION)])
    operation = np.concatenate([operation[kept], infected])
    day = np.concatenate([day[kept], began])
    grade, organs = _GRADE[kind], _ORGANS[kind]
    grade[len(grade) - len(infected) :] = np.where(two, IVB, np.where(shock, IVA, II))
    organs[len(organs) - len(infected) :] = shock.astype(np.int64) + two
    order = np.lexsort((kind, day, operation))
    drawn = {"operation": operation, "kind": kind, "day": day, "grade": grade, "organs": organs}
    return {name: values[order] for name, values in drawn.items()}


def _deaths(rng: np.random.Generator, patients: Columns, operations: Columns, rows: Columns) -> None:
    """Those who die of a complication, up to four days after its onset; what would have begun later does not."""
    fatal = rows["kind"] == FATAL
    operation = rows["operation"][fatal]
    day = rows["day"][fatal] + np.floor(5 * rng.random(len(operation))).astype(np.int64)
    end = np.full(len(operations["on"]), np.iinfo(np.int64).max)
    end[operation] = day
    patients["died_on"] = patients["died_on"].copy()
    patients["died_on"][operations["patient"][operation]] = operations["on"][operation] + day.astype("timedelta64[D]")
    kept = fatal | (rows["day"] < end[rows["operation"]])
    for name in rows:
        rows[name] = rows[name][kept]


def _known_and_graded(
    parameters: Parameters,
    rng: np.random.Generator,
    rows: Columns,
    reviewed: NDArray[np.bool_],
    infection_known: NDArray[np.bool_],
) -> None:
    p, size = parameters, len(rows["kind"])
    uniform = rng.random((6, size))
    known = reviewed[rows["operation"]] | (rows["kind"] == FATAL) | (uniform[0] < p.share_unreviewed_known)
    rows["known"] = np.where(rows["kind"] == INFECTION, infection_known[rows["operation"]], known)
    rows["to_the_month"] = (uniform[1] < p.share_onset_to_the_month) & (rows["kind"] < INFECTION)
    graded = (rows["grade"] > NONE) & (uniform[2] < p.share_graded)
    first = _as_graded(rows["grade"], rng.random(size), p.grader_error_first)
    second = _as_graded(rows["grade"], rng.random(size), p.grader_error_second)
    rows["first_grade"] = np.where(graded, first, NONE)
    rows["second_grade"] = np.where(graded & (uniform[3] < p.share_second_graded), second, NONE)
    rows["lingers"] = uniform[4] < p.share_lingering
    rows["came_back"] = uniform[5]


def _as_graded(grade: NDArray[np.int64], uniform: NDArray[np.float64], error: float) -> NDArray[np.int64]:
    """A grader's grade: one off, upwards as often as downwards, with the probability ``error``; death is not missed."""
    step = np.where(uniform < error / 2, -1, np.where(uniform < error, 1, 0))
    # At either end there is one way only, so that the probability of an error is the same for all.
    step = np.where(grade == I, np.abs(step), np.where(grade == IVB, -np.abs(step), step))
    return np.where((grade == NONE) | (grade == V), grade, grade + step)


def _kidneys(parameters: Parameters, seed: int, patients: Columns, operations: Columns) -> None:
    """Filtration before each operation, the patient's own, and its change to weeks after."""
    p, rng = parameters, named_generator(seed, "kidneys")
    own = p.egfr_mean + p.egfr_per_10_years / 10 * (patients["age"] - p.age_mean)
    own = own + p.egfr_sd * rng.standard_normal(len(own))
    # Above the bend of the curve a small rise needs a creatinine that nobody has; the bounds of the change are
    # alike on both sides, so that its mean stays what it is.
    own = np.clip(own, 20.0, bend(patients["age"], patients["female"]))
    chance = np.clip(rng.standard_normal(len(operations["on"])), -FURTHEST_SPREADS, FURTHEST_SPREADS)
    operations["egfr_before"] = own[operations["patient"]]
    operations["egfr_change"] = (
        p.egfr_change_mean + p.egfr_change_infection * operations["infection"] + p.egfr_change_sd * chance
    )
