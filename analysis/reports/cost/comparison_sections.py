"""The sections that compare two groups: differences, incremental ratio, quadrants of the plane, net benefit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.estimators.cost_effectiveness import QUADRANTS, CostEffectiveness, cost_effectiveness
from analysis.outcomes.thresholds import Threshold
from analysis.reports.cost.counting import counted
from analysis.reports.cost.gathered import Gathered
from analysis.reports.cost.ratio_section import threshold_words
from analysis.reports.sections.report import Column, Section
from analysis.reports.stone_free.comparisons import place_of_arm
from registry.schema.errors import GravelbookError

DEFINITION = {
    "id": "incremental-cost-per-stone-free-case",
    "version": "1",
    "source": (
        "Black, Med Decis Making 1990;10:212-214; Briggs et al., Health Econ 1997;6:327-340; Stinnett & Mullahy, Med "
        "Decis Making 1998;18:S68-S80 (all from memory)"
    ),
    "rule": "difference in mean cost over difference in stone-free rate, index minus comparator, resampling patients",
}
FIRST = (Column("largest left", "threshold_words"), Column("unscanned", "unscanned"))


@dataclass(frozen=True, eq=False)
class Compared:
    """One comparison, at one threshold and handling of the unscanned."""

    threshold: Threshold
    unscanned: str
    made: CostEffectiveness
    means: tuple[float | None, float | None]
    rates: tuple[float | None, float | None]


def compared(held: Gathered) -> list[Compared]:
    """Every comparison that was asked for; none without --compare.

    Raises GravelbookError when index or comparator does not occur.
    """
    contrast, arms, request = held.request.contrast, held.arms, held.request
    if contrast is None or arms is None:
        return []
    first, second = (place_of_arm(arms, name, contrast) for name in (contrast.index, contrast.comparator))
    if first == second:
        raise GravelbookError(
            f"--compare: {contrast.index!r} and {contrast.comparator!r} are one group, so nothing would be compared. "
            "Name two different groups."
        )
    found = []
    for threshold in held.thresholds:
        for unscanned in request.unscanned:
            free, inside = counted(held, threshold.code, unscanned)
            n = inside & np.isin(arms.codes, [first, second])
            cost, index = held.courses["cost"].to_numpy(dtype=float)[n], arms.codes[n] == first
            made = cost_effectiveness(
                cost=cost,
                effect=free[n].astype(float),
                index=index,
                cluster=held.patient[n],
                willing=request.willing,
                seed=request.seed,
                replicates=request.replicates,
                level=request.level,
            )
            means = _mean(cost[index]), _mean(cost[~index])
            rates = _mean(free[n][index].astype(float)), _mean(free[n][~index].astype(float))
            found.append(Compared(threshold, unscanned, made, means, rates))
    return found


def comparison_sections(held: Gathered, found: list[Compared]) -> list[Section]:
    """The sections of comparisons; empty when there are none."""
    contrast = held.request.contrast
    if contrast is None:
        return []
    arms = f"{contrast.split.column}: {contrast.index} against {contrast.comparator}"
    money = f", {held.currency}" if held.currency else ""
    sections = [_differences(arms, money, found), _ratios(arms, money, found), _plane(arms, found)]
    return [*sections, _benefits(arms, money, found)] if held.request.willing else sections


def _differences(arms: str, money: str, found: list[Compared]) -> Section:
    def row(one: Compared) -> list[dict[str, Any]]:
        made = one.made
        rate = made.effect
        return [
            {
                "mean_index": one.means[0],
                "mean_comparator": one.means[1],
                "rate_index": one.rates[0],
                "rate_comparator": one.rates[1],
                "estimate": made.cost.estimate,
                "low": made.cost.limits.low,
                "high": made.cost.limits.high,
                "rate_difference": rate.estimate,
                "rate_low": rate.limits.low,
                "rate_high": rate.limits.high,
                "reason": made.cost.limits.reason,
            }
        ]

    return Section(
        name="differences",
        title=f"Difference in mean cost{money} and in stone-free rate, {arms}",
        rows=_rows(found, row),
        columns=(
            *FIRST,
            Column("n index", "n_index", "count"),
            Column("n other", "n_comparator", "count"),
            Column("cost", "estimate", "number", digits=0),
            Column("low", "low", "number", digits=0),
            Column("high", "high", "number", digits=0),
            Column("points free", "rate_difference", "points"),
            Column("interval", "rate_low rate_high", "points_range"),
        ),
        definition=DEFINITION,
        notes=["Crude: the groups may differ in the stones and patients they treat, and costs follow those."],
    )


def _ratios(arms: str, money: str, found: list[Compared]) -> Section:
    def row(one: Compared) -> list[dict[str, Any]]:
        made = one.made
        return [
            {
                "estimate": made.ratio,
                "low": made.ratio_limits.low,
                "high": made.ratio_limits.high,
                "standing": made.standing,
                "reason": made.ratio_reason or made.ratio_limits.reason,
                "said": _said(made),
                # A ratio whose sign is open is kept for machines, with its reason, and not printed as a price.
                "shown": made.ratio if made.ratio_limits.low is not None else None,
            }
        ]

    return Section(
        name="incremental_ratio",
        title=f"Incremental cost per further stone-free case{money}, {arms}",
        rows=_rows(found, row),
        columns=(
            *FIRST,
            Column("index", "said"),
            Column("ratio", "shown", "number", digits=0),
            Column("low", "low", "number", digits=0),
            Column("high", "high", "number", digits=0),
        ),
        definition=DEFINITION,
        notes=[
            "Where one group dominates there is no ratio: there is no price to pay. It dominates only where the "
            "interval of the difference in rate is clear of 0; elsewhere rates are not told apart, and where what is "
            "cheaper seems to leave no fewer free there is no ratio either. Where the index costs less and does less, "
            "the ratio is what is saved for each stone-free case forgone. It is printed, with its interval, only where "
            "the difference in rate is clear of 0, a negative limit reaching into dominance; elsewhere see the plane "
            "and the net benefit.",
        ],
    )


def _plane(arms: str, found: list[Compared]) -> Section:
    def row(one: Compared) -> list[dict[str, Any]]:
        shares = one.made.quadrants or dict.fromkeys(QUADRANTS)
        left_out = one.made.left_out
        return [{**shares, "left_out": left_out, "estimate": shares["less_more"], "low": None, "high": None}]

    return Section(
        name="plane",
        title=f"Share of resamples in each quadrant (index against comparator), {arms}",
        rows=_rows(found, row),
        columns=(
            *FIRST,
            Column("dearer, more free", "more_more", "percent"),
            Column("dearer, fewer free", "more_less", "percent"),
            Column("cheaper, more free", "less_more", "percent"),
            Column("cheaper, fewer free", "less_less", "percent"),
        ),
        definition=DEFINITION,
        notes=["A resample without a difference counts with what is cheaper, or has more free."],
    )


def _benefits(arms: str, money: str, found: list[Compared]) -> Section:
    def row(one: Compared) -> list[dict[str, Any]]:
        return [
            {
                "willing": each.willing,
                "estimate": each.estimate,
                "low": each.limits.low,
                "high": each.limits.high,
                "above": each.above,
                "reason": each.limits.reason,
            }
            for each in one.made.net_benefits
        ]

    return Section(
        name="net_benefit",
        title=f"Net monetary benefit per course{money}, {arms}",
        rows=_rows(found, row),
        columns=(
            *FIRST,
            Column("a case is worth", "willing", "number", digits=0, free=True),
            Column("net benefit", "estimate", "number", digits=0),
            Column("low", "low", "number", digits=0),
            Column("high", "high", "number", digits=0),
            Column("above 0 in", "above", "percent"),
        ),
        definition=DEFINITION,
        notes=["What one more stone-free case is worth, times the difference in rate, less the difference in cost."],
    )


def _rows(found: list[Compared], row: Callable[[Compared], list[dict[str, Any]]]) -> list[dict[str, Any]]:
    return [
        {
            "threshold": one.threshold.code,
            "threshold_mm": float(one.threshold.value_mm),
            "comparison": one.threshold.comparison,
            "threshold_words": threshold_words(one.threshold),
            "unscanned": one.unscanned,
            # No comparison is shown from a group that is too small, so the smaller stands for both.
            "n": min(one.made.n_index, one.made.n_comparator),
            "unknown": None,
            "n_index": one.made.n_index,
            "n_comparator": one.made.n_comparator,
            "patients": one.made.clusters,
            **made,
        }
        for one in found
        for made in row(one)
    ]


def _said(made: CostEffectiveness) -> str | None:
    """Where the index stands: nothing is said of its stone-free rate where the difference is not clear of 0."""
    cost = made.cost.estimate
    if made.standing is None or cost is None:
        return made.ratio_reason
    if made.effect.clear or made.standing == "alike":
        return made.standing
    return f"{'dearer' if cost > 0 else 'cheaper' if cost < 0 else 'costs alike'}, rates not told apart"


def _mean(values: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float | None:
    return float(values.mean()) if len(values) else None
