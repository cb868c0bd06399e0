"""The section of cost per stone-free case."""

from __future__ import annotations

from typing import Any

from analysis.estimators.ratio_of_sums import ratio_of_sums
from analysis.outcomes.cost.components import PER_STONE_FREE
from analysis.outcomes.thresholds import Threshold
from analysis.reports.cost.counting import HANDLINGS, counted, left_out
from analysis.reports.cost.gathered import Gathered
from analysis.reports.cost.unrated import unrated_note, used_without_rate
from analysis.reports.sections.report import Column, Section

COLUMNS = (
    Column("largest left", "threshold_words"),
    Column("unscanned", "unscanned"),
    Column("n", "n", "count"),
    Column("free", "stone_free", "count"),
    Column("not known", "unknown", "count"),
    Column("mean cost", "mean_cost", "number", digits=0),
    Column("per free case", "estimate", "number", digits=0),
    Column("low", "low", "number", digits=0),
    Column("high", "high", "number", digits=0),
    Column("Fieller low", "low_fieller", "number", digits=0),
    Column("high", "high_fieller", "number", digits=0),
)


NO_COURSE = (
    "No course of treatment where stone removal was intended is in the cohort, so there is no cost and no cost per "
    "stone-free case. Who is counted, below, says what was left out."
)


def threshold_words(threshold: Threshold) -> str:
    """`<= 2 mm`, `0 mm`."""
    return f"{threshold.comparison} {threshold.value_mm:g} mm" if threshold.value_mm else "0 mm"


def ratio_section(held: Gathered) -> Section:
    """Cost of all courses in n over the stone-free among them, by group, threshold and handling of the unscanned."""
    request = held.request
    rows = [
        _row(held, place, threshold, unscanned)
        for place in range(len(held.by))
        for threshold in held.thresholds
        for unscanned in request.unscanned
    ]
    return Section(
        name="cost_per_stone_free",
        title=f"Cost per stone-free case{_money(held)}",
        rows=rows,
        columns=COLUMNS,
        definition={**PER_STONE_FREE, "intervals": ["cluster bootstrap, percentile", "Fieller, between clusters"]},
        in_words=[(word, said.partition(": ")[2]) for word, said in HANDLINGS.items() if word in request.unscanned],
        notes=_notes(held, rows),
    )


def _row(held: Gathered, place: int, threshold: Threshold, unscanned: str) -> dict[str, Any]:
    request = held.request
    own = held.by.codes == place
    free, inside = counted(held, threshold.code, unscanned)
    n = own & inside
    made = ratio_of_sums(
        held.courses["cost"].to_numpy(dtype=float)[n],
        free[n].astype(float),
        held.patient[n],
        seed=request.seed,
        replicates=request.replicates,
        level=request.level,
    )
    return {
        "group": held.by.as_dicts()[place],
        "threshold": threshold.code,
        "threshold_mm": float(threshold.value_mm),
        "comparison": threshold.comparison,
        "threshold_words": threshold_words(threshold),
        "unscanned": unscanned,
        "n": made.n,
        **left_out(held, threshold.code, own, made.n),
        "not_costed": int((n & used_without_rate(held)).sum()),
        "patients": made.clusters,
        "stone_free": int(made.under),
        "total_cost": made.over,
        "mean_cost": made.over / made.n if made.n else None,
        "estimate": made.estimate,
        "low": made.bootstrap.low,
        "high": made.bootstrap.high,
        "low_fieller": made.fieller.low,
        "high_fieller": made.fieller.high,
        "reason": made.reason,
        "reason_bootstrap": made.bootstrap.reason,
        "reason_fieller": made.fieller.reason,
    }


def _money(held: Gathered) -> str:
    return f", {held.currency}" if held.currency else ""


def _notes(held: Gathered, rows: list[dict[str, Any]]) -> list[str]:
    level = f"{100 * held.request.level:g} %"
    if not held.inside.any():
        return [NO_COURSE]
    notes = [
        *filter(None, [unrated_note(held)]),
        f"Intervals, {level}: percentiles of {held.request.replicates:,} resamples of patients, and Fieller's.",
    ]
    if rows:
        most = {name: max(row[name] for row in rows) for name in ("cost_missing", "cost_not_due", "not_due", "died")}
        total = len(held.by)
        where = "" if total == 1 else " in the largest of the groups"
        notes.append(
            f"Not in n{where}: cost not computable {most['cost_missing']:,} (see below by component), horizon not over "
            f"{most['cost_not_due']:,}; neither in n nor in its bounds: stone-free window not over "
            f"{most['not_due']:,}, died before a study {most['died']:,}."
        )
    notes += [
        f"{', '.join(map(str, row['group'].values())) or 'Everyone'}, {row['threshold_words']}, {row['unscanned']}: no "
        f"cost per stone-free case, because {_why(row)}."
        for row in rows
        if row["reason"]
    ][:6]
    return notes


def _why(row: dict[str, Any]) -> str:
    return "nobody is stone-free" if row["n"] else "no course is in n"
