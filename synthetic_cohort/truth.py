"""The true value of what analysis estimates, from a large population treated both ways.

Chance is left out of the outcome: each side contributes its probability, worked out from the model's own equations, so
that what remains of simulation error comes from the mix of people alone. Contrasts set the exposure of every eligible
first operation to one value, then to the other, and leave everything else as it was (a potential outcome each).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from registry.schema.errors import GravelbookError
from synthetic_cohort.draws import Columns, expit
from synthetic_cohort.frames import ABANDONED, Cohort, cohort
from synthetic_cohort.outcome import THRESHOLDS, cut_mm, free_log_odds, infection_log_odds
from synthetic_cohort.parameters import Parameters

Outcome = Literal["stone_free", "infection"]
Exposure = Literal["none", "ratio", "suction"]
Measure = Literal["probability", "difference", "ratio", "odds_ratio", "conditional_odds_ratio"]
People = Literal["all", "first"]

CONTRASTS: tuple[Measure, ...] = ("difference", "ratio", "odds_ratio", "conditional_odds_ratio")
POPULATION = 200_000
SEED = 20_190_107


@dataclass(frozen=True)
class Estimand:
    """A quantity with a true value.

    outcome: stone_free (of a side, at ``threshold``) or infection (of an operation).
    exposure: what is set; ``none`` for the plain probability in the mix as it is.
    measure: probability (under ``index``, when an exposure is set); difference, ratio and odds_ratio of the marginal
        probabilities, index against comparator; conditional_odds_ratio, within an operator's patient of given values
        whose side was not abandoned.
    index, comparator: sheath-to-scope ratios, or 1 and 0 for suction.
    sides: of the plain probability, ``all`` sides where removal was intended (stages and retreatments too), or the
        ``first`` ones. Contrasts are always of first flexible sides with a sheath.
    """

    outcome: Outcome = "stone_free"
    exposure: Exposure = "none"
    measure: Measure = "probability"
    threshold: str = "2"
    index: float = 1.6
    comparator: float = 1.1765
    sides: People = "all"


@dataclass(frozen=True)
class TrueValue:
    """A true value and its simulation error (standard error over the people drawn; 0 when it is exact)."""

    value: float
    error: float


def estimands() -> dict[str, Estimand]:
    """The estimands that the command prints, by name."""
    found = {f"stone-free {t}": Estimand(threshold=t) for t in THRESHOLDS}
    wide, tight = 1.6, 100 / 85
    for threshold in ("0", "2", "4"):
        for measure in CONTRASTS:
            found[f"stone-free {threshold}, ratio 1.60 against 1.18, {measure}"] = Estimand(
                "stone_free", "ratio", measure, threshold, wide, tight
            )
    for measure in CONTRASTS:
        found[f"stone-free 2, suction against none, {measure}"] = Estimand("stone_free", "suction", measure, "2", 1, 0)
    found["infection"] = Estimand("infection")
    for ratio in (1.6, 4 / 3, 100 / 85):
        found[f"infection at ratio {ratio:.2f}"] = Estimand("infection", "ratio", "probability", index=ratio)
    for measure in CONTRASTS[:3]:
        found[f"infection, ratio 1.18 against 1.60, {measure}"] = Estimand(
            "infection", "ratio", measure, index=tight, comparator=wide
        )
    return found


def true_value(
    parameters: Parameters, estimand: Estimand | str, *, population: int = POPULATION, seed: int = SEED
) -> TrueValue:
    """The true value of an estimand.

    Args:
        parameters: the truth.
        estimand: what is asked, or a name from ``estimands()``.
        population: operations simulated; more makes the error smaller.
        seed: of the population.

    Raises:
        GravelbookError: the estimand is not known, or the threshold has no exact truth.
    """
    asked = _named(estimand) if isinstance(estimand, str) else estimand
    if asked.measure == "conditional_odds_ratio":
        return TrueValue(_conditional(parameters, asked), 0.0)
    if asked.measure != "probability" and asked.exposure == "none":
        raise GravelbookError(f"A {asked.measure} needs an exposure. Give the exposure 'ratio' or 'suction'.")
    people = population_of(parameters, population, seed)
    if asked.exposure == "none":
        return _mean(_as_it_is(people, asked))
    index = _set(people, asked, asked.index)
    if asked.measure == "probability":
        return _mean(index)
    return _contrast(index, _set(people, asked, asked.comparator), asked.measure)


def true_values(parameters: Parameters, *, population: int = POPULATION, seed: int = SEED) -> dict[str, TrueValue]:
    """The true value of every named estimand."""
    return {name: true_value(parameters, e, population=population, seed=seed) for name, e in estimands().items()}


def _named(name: str) -> Estimand:
    known = estimands()
    if name not in known:
        raise GravelbookError(f"There is no estimand {name!r}. Those with a name are: {'; '.join(known)}.")
    return known[name]


@lru_cache(maxsize=2)
def population_of(parameters: Parameters, size: int, seed: int) -> Cohort:
    """The people from whom true values are worked out, drawn once."""
    return cohort(parameters, size, seed)


def _as_it_is(people: Cohort, asked: Estimand) -> NDArray[np.float64]:
    sides, operations = people.sides, people.operations
    if asked.outcome == "stone_free":
        which = sides["intended"] & ((sides["parent"] < 0) if asked.sides == "first" else True)
        return _free(people.parameters, sides["log_odds"][which], sides["conduct"][which], asked.threshold)
    operated = sides["intended"][operations["first_side"]] | sides["intended"][operations["second_side"]]
    if asked.sides == "first":
        operated &= sides["parent"][operations["first_side"]] < 0
    chosen = {name: values[operated] for name, values in operations.items()}
    return expit(infection_log_odds(people.parameters, chosen))


def _set(people: Cohort, asked: Estimand, value: float) -> NDArray[np.float64]:
    """Each eligible side's (or operation's) probability with the exposure set to a value."""
    sides, operations = people.sides, people.operations
    eligible = sides["intended"] & (sides["parent"] < 0) & (sides["sheath"] > 0)
    if asked.outcome == "stone_free":
        chosen = {name: values[eligible] for name, values in sides.items()}
        _expose(chosen, asked.exposure, "ratio", value)
        return _free(people.parameters, free_log_odds(people.parameters, chosen), chosen["conduct"], asked.threshold)
    both = eligible[operations["first_side"]] & eligible[operations["second_side"]]
    chosen = {name: values[both] for name, values in operations.items()}
    _expose(chosen, asked.exposure, "tightest_ratio", value)
    return expit(infection_log_odds(people.parameters, chosen))


def _expose(columns: Columns, exposure: Exposure, ratio_column: str, value: float) -> None:
    name = ratio_column if exposure == "ratio" else "suction"
    columns[name] = np.full(len(columns[name]), value)


def _free(
    parameters: Parameters, log_odds: NDArray[np.float64], conduct: NDArray[np.int64], threshold: str
) -> NDArray[np.float64]:
    chance = expit(log_odds + cut_mm(threshold) / parameters.fragment_scale_mm)
    return np.where(conduct == ABANDONED, 0.0, chance)


def _mean(chances: NDArray[np.float64]) -> TrueValue:
    _enough(chances)
    return TrueValue(float(chances.mean()), float(chances.std() / math.sqrt(len(chances))))


def _contrast(index: NDArray[np.float64], comparator: NDArray[np.float64], measure: Measure) -> TrueValue:
    _enough(index)
    a, b = float(index.mean()), float(comparator.mean())
    if measure == "difference":
        value, pull_a, pull_b = a - b, 1.0, -1.0
    elif measure == "ratio":
        value, pull_a, pull_b = a / b, 1 / b, -a / b**2
    else:
        value = a / (1 - a) / (b / (1 - b))
        pull_a, pull_b = value / (a * (1 - a)), -value / (b * (1 - b))
    # The delta method: how much each person pulls the contrast.
    pulls: NDArray[np.float64] = pull_a * (index - a) + pull_b * (comparator - b)
    return TrueValue(value, float(pulls.std() / math.sqrt(len(pulls))))


def _enough(chances: NDArray[Any]) -> None:
    if not len(chances):
        raise GravelbookError(
            "Nobody in the population is eligible for this estimand. Raise the shares that make sides eligible."
        )


def _conditional(parameters: Parameters, asked: Estimand) -> float:
    p = parameters
    if asked.exposure == "none" or (asked.outcome == "infection" and asked.exposure == "ratio"):
        raise GravelbookError(
            "This conditional odds ratio is not one number: an exposure is lacking, or it differs between positive and "
            "negative cultures. Ask for stone_free, or for a marginal measure."
        )
    if asked.exposure == "suction":
        effect = p.free_suction if asked.outcome == "stone_free" else p.infection_suction
        return math.exp(effect * (asked.index - asked.comparator))
    room = min(asked.index, p.ratio_plateau) - min(asked.comparator, p.ratio_plateau)
    return math.exp(p.free_per_tenth_ratio * room * 10)
