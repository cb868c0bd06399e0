"""Two groups compared: crude, over strata (Mantel-Haenszel), and standardised to one mix of strata."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from analysis.estimators.bootstrap import BootstrapEffects, bootstrap_effects
from analysis.estimators.strata import Homogeneity, homogeneity_of_odds_ratios, mantel_haenszel, standardised
from analysis.estimators.two_groups import Effect, two_group_effects
from analysis.reports.request.grouping import BoolArray, Grouping, IntArray
from analysis.reports.request.splits import Contrast
from analysis.reports.stone_free.packed import AskedThreshold, Packed
from analysis.reports.stone_free.rates import counting_as
from registry.schema.errors import GravelbookError

MEASURES = ("difference", "ratio", "odds_ratio")
WAYS = ("crude", "mantel_haenszel", "standardised")


@dataclass(frozen=True)
class ShownEffect:
    """One effect, index minus or over comparator, by formula and by resampling patients; None where there is none."""

    estimate: float | None
    low: float | None
    high: float | None
    low_bootstrap: float | None
    high_bootstrap: float | None
    method: str
    reason: str | None


@dataclass(frozen=True)
class AmongAdequate:
    """The same two groups without failures that are known from inadequate studies alone.

    left_out: how many such failures both groups have. difference: index minus comparator, crude.
    """

    free_index: int
    n_index: int
    free_comparator: int
    n_comparator: int
    left_out: int
    difference: Effect


@dataclass(frozen=True)
class Comparison:
    """One pair of groups at one threshold and handling of the unscanned.

    effects: way -> measure -> effect; a way over strata is missing when no strata were asked for.
    free_index of n_index, free_comparator of n_comparator: the counts compared.
    strata_left_out: strata in which one of the two groups has nobody in n. rates: of index and comparator, where they
    are not free of n: weighted, or means of imputations, whose free_index is rounded. adequate: of those known alone.
    """

    column: str
    index: str
    comparator: str
    threshold: AskedThreshold
    unscanned: str
    free_index: int
    n_index: int
    free_comparator: int
    n_comparator: int
    effects: dict[str, dict[str, ShownEffect]]
    standardised_rates: tuple[float | None, float | None] | None
    homogeneity: Homogeneity | None
    strata_left_out: tuple[str, ...]
    rates: tuple[float | None, float | None] | None = None
    adequate: AmongAdequate | None = None

    def rate_of(self, group: str) -> float | None:
        """The rate of `index` or `comparator`."""
        place = ("index", "comparator").index(group)
        if self.rates is not None:
            return self.rates[place]
        free, n = ((self.free_index, self.n_index), (self.free_comparator, self.n_comparator))[place]
        return free / n if n else None


def compare(
    units: Packed,
    arms: Grouping,
    contrast: Contrast,
    strata: Grouping | None = None,
    *,
    unscanned: Sequence[str] = ("complete",),
    level: float = 0.95,
    seed: int = 1,
    replicates: int = 2000,
) -> list[Comparison]:
    """Compare two groups of one column at every threshold and handling of the unscanned.

    arms: the grouping by the contrast's column. strata: the grouping to adjust for, None for the crude effect
    alone. The standard is the stratum mix of both groups' units in n. Resampling draws patients, with all their
    units, `replicates` times from the same seed.

    Raises GravelbookError, with what occurs, when index or comparator does not.
    """
    places = [place_of_arm(arms, name, contrast) for name in (contrast.index, contrast.comparator)]
    either = np.isin(arms.codes, places)
    # A unit of these arms is inside the denominator, so it has a stratum too.
    code = np.zeros(units.units, dtype=np.int64) if strata is None else strata.codes
    rows = _Rows(units.pattern[either], arms.codes[either] == places[0], code[either], units.patient[either])
    found = []
    for at, threshold in enumerate(units.thresholds):
        for mode in unscanned:
            free, inside = counting_as(units, mode)
            kept = inside[:, at][rows.pattern] if units.patterns else np.zeros(0, dtype=bool)
            outcome = free[:, at][rows.pattern[kept]] if units.patterns else np.zeros(0, dtype=bool)
            of = _Rows(rows.pattern[kept], rows.index[kept], rows.stratum[kept], rows.patient[kept])
            one = _one(outcome, of, contrast, threshold, mode, strata, level, seed, replicates)
            if mode == "complete":
                weak = units.failed_inadequate[:, at][of.pattern] if units.patterns else outcome
                one = replace(one, adequate=_among_adequate(outcome, of.index, weak, level))
            found.append(one)
    return found


def _among_adequate(outcome: BoolArray, index: BoolArray, weak: BoolArray, level: float) -> AmongAdequate:
    """weak: failed, and known to have from an inadequate study alone; shape (units,) as the others."""
    counts = [(int((outcome & arm & ~weak).sum()), int((arm & ~weak).sum())) for arm in (index, ~index)]
    (x1, n1), (x0, n0) = counts
    made = two_group_effects(events_index=x1, n_index=n1, events_comparator=x0, n_comparator=n0, level=level)
    return AmongAdequate(x1, n1, x0, n0, int(weak.sum()), made.difference)


@dataclass(frozen=True, eq=False)
class _Rows:
    """The units of both groups."""

    pattern: IntArray
    index: np.ndarray[Any, np.dtype[np.bool_]]
    stratum: IntArray
    patient: IntArray


def _one(
    outcome: np.ndarray[Any, np.dtype[np.bool_]],
    rows: _Rows,
    contrast: Contrast,
    threshold: AskedThreshold,
    mode: str,
    strata: Grouping | None,
    level: float,
    seed: int,
    replicates: int,
) -> Comparison:
    size = 1 if strata is None else len(strata)
    cells = (~rows.index).astype(np.int64) * size + rows.stratum
    n = np.bincount(cells, minlength=2 * size).reshape(2, size)
    events = np.bincount(cells, weights=outcome, minlength=2 * size).reshape(2, size)
    resampled = bootstrap_effects(
        outcome=outcome,
        index=rows.index,
        cluster=rows.patient,
        stratum=rows.stratum,
        seed=seed,
        replicates=replicates,
        level=level,
    )
    (x1, x0), (n1, n0) = (counts.sum(axis=1).tolist() for counts in (events, n))
    crude = two_group_effects(events_index=x1, n_index=n1, events_comparator=x0, n_comparator=n0, level=level)
    effects = {"crude": _shown(crude, resampled.crude)}
    rates: tuple[float | None, float | None] | None = None
    homogeneity: Homogeneity | None = None
    left_out: tuple[str, ...] = ()
    if strata is not None:
        tables: dict[str, Any] = {
            "events_index": events[0],
            "n_index": n[0],
            "events_comparator": events[1],
            "n_comparator": n[1],
        }
        pooled, standard = mantel_haenszel(**tables, level=level), standardised(**tables, level=level)
        homogeneity = homogeneity_of_odds_ratios(**tables)
        effects["mantel_haenszel"] = _shown(pooled, resampled.mantel_haenszel)
        effects["standardised"] = _shown(standard, resampled.standardised)
        rates = (standard.rate_index, standard.rate_comparator)
        names = strata.named()
        left_out = tuple(names[stratum] for stratum in pooled.strata_left_out)
    return Comparison(
        column=contrast.split.column,
        index=contrast.index,
        comparator=contrast.comparator,
        threshold=threshold,
        unscanned=mode,
        free_index=int(x1),
        n_index=int(n1),
        free_comparator=int(x0),
        n_comparator=int(n0),
        effects=effects,
        standardised_rates=rates,
        homogeneity=homogeneity,
        strata_left_out=left_out,
    )


def _shown(formula: Any, resampled: BootstrapEffects) -> dict[str, ShownEffect]:
    made = {}
    for measure in MEASURES:
        effect: Effect = getattr(formula, measure)
        drawn = getattr(resampled, measure)
        made[measure] = ShownEffect(
            estimate=effect.estimate,
            low=effect.low,
            high=effect.high,
            low_bootstrap=drawn.low,
            high_bootstrap=drawn.high,
            method=effect.method,
            reason=effect.reason or drawn.reason,
        )
    return made


def place_of_arm(arms: Grouping, name: str, contrast: Contrast) -> int:
    """The group of this name; case does not matter, nor does the unit of a stretch between cuts."""
    names = arms.named()
    spellings = [names, [label.casefold() for label in names]]
    if contrast.split.cuts:
        spellings.append([re.sub(r"(\d) \S+(?=$| and over$)", r"\1", label) for label in names])
    for spelling in spellings:
        for wanted in (name, name.casefold()):
            if wanted in spelling:
                return spelling.index(wanted)
    raise GravelbookError(
        f"No unit inside the denominator has {contrast.split.column} {name!r}, so there is nothing to compare. What "
        f"occurs is: {', '.join(names) or 'nothing at all'}."
    )
