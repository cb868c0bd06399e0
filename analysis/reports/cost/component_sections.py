"""The sections about what courses cost: mean by component, what could not be computed, what was not costed."""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.estimators.clustered_mean import METHOD, clustered_mean
from analysis.outcomes.cost.charges import NO_RATE
from analysis.outcomes.cost.components import COMPONENTS, COST, MISSING, NOT_COSTED
from analysis.reports.cost.gathered import Gathered
from analysis.reports.cost.unrated import used_without_rate, without_any_rate
from analysis.reports.sections.report import Column, Section

ALL = "all"


def mean_section(held: Gathered) -> Section:
    """Mean cost per course and of each component, over all courses of the denominator whose cost is known."""
    rows = [row for place in range(len(held.by)) for row in _means(held, place)]
    return Section(
        name="mean_cost",
        title=f"Mean cost per course{f', {held.currency}' if held.currency else ''}, failures and deaths included",
        rows=rows,
        columns=(
            Column("component", "component_words"),
            Column("n", "n", "count"),
            Column("not computable", "missing", "count"),
            Column("no rate in", "not_costed", "count"),
            Column("mean", "estimate", "number", digits=0, instead="instead"),
            Column("low", "low", "number", digits=0),
            Column("high", "high", "number", digits=0),
            Column("share", "share", "percent"),
        ),
        definition={**COST, "interval": METHOD},
        notes=[
            "Every row is of the same n: courses of which every component could be computed and the horizon is over. "
            "Not computable: courses in which that component could not. No rate in: courses of n that used something "
            "of the component that costs nothing here because the unit has no rate for it; 'no rate' instead of a mean "
            "where that is so of all that was used.",
        ],
    )


def missing_section(held: Gathered) -> Section:
    """What was used and could not be costed, so that its courses have no cost."""
    rows = _told(held, MISSING)
    return Section(
        name="not_computable",
        title="Cost not computable: used, and its price, amount or day not known",
        rows=rows,
        columns=_told_columns(),
        definition={"id": COST["id"], "version": COST["version"], "missing_price": held.request.rules.missing_price},
        notes=[
            "A course with one of these has no cost and is not in n. Enter the price or rate (sheets Price and Cost "
            "rate) or what is missing, leave a component out with --components, or see what happens with "
            "--missing-price zero."
        ]
        if rows
        else ["Every thing that was recorded as used could be costed."]
        if held.inside.any()
        else ["Nothing."],
    )


def uncosted_section(held: Gathered) -> Section:
    """What was recorded and counts as nothing, having no rate or not being asked for: named and counted."""
    rows = _told(held, NOT_COSTED)
    return Section(
        name="not_costed",
        title="Recorded, and counted as nothing",
        rows=rows,
        columns=_told_columns(),
        definition={"id": COST["id"], "version": COST["version"]},
        notes=[
            "To have it costed, add a rate (sheet Cost rate) with its item and detail: other, retreatment elsewhere; "
            "drug, antibiotic course; other, blood transfusion; stent removal, home; CT, elsewhere; for example. What "
            "equipment was bought for is counted with --reusable purchase."
        ]
        if rows
        else ["Nothing."],
    )


def _means(held: Gathered, place: int) -> list[dict[str, Any]]:
    request, courses = held.request, held.courses
    own = (held.by.codes == place) & held.inside
    due = own & np.asarray(courses["due"], dtype=bool)
    n = own & held.costed
    whole = float(courses.loc[n, "cost"].sum())
    rows = []
    for component in (ALL, *request.rules.components):
        column = "cost" if component == ALL else component
        values = courses.loc[n, column].to_numpy(dtype=float)
        made = clustered_mean(
            values, held.patient[n], seed=request.seed, replicates=request.replicates, level=request.level
        )
        missing = int((due & np.asarray(courses[column].isna(), dtype=bool)).sum())
        whole_of = component == ALL
        unrated = not whole_of and without_any_rate(held, component, n)
        total = None if unrated else float(values.sum())
        rows.append(
            {
                "group": held.by.as_dicts()[place],
                "component": component,
                "component_words": COMPONENTS.get(component, "all"),
                "n": made.n,
                "unknown": int(own.sum()) - made.n,
                "missing": missing,
                "cost_not_due": int(own.sum()) - int(due.sum()),
                "not_costed": int((n & used_without_rate(held, None if whole_of else component)).sum()),
                "estimate": None if unrated else made.estimate,
                "low": None if unrated else made.low,
                "high": None if unrated else made.high,
                "share": total / whole if whole and total is not None else None,
                "total": total,
                "reason": NO_RATE if unrated else made.reason,
                "instead": NO_RATE if unrated else None,
            }
        )
    return rows


def _told(held: Gathered, state: str) -> list[dict[str, Any]]:
    charges = held.charges[(held.charges["state"] == state).to_numpy(dtype=bool)]
    # An operation of two sides is one thing, half of it in either course.
    told = charges.groupby(["component", "what", "reason"], sort=False).agg(
        things=("source_id", "nunique"), courses=("course_id", "nunique")
    )
    order = {name: place for place, name in enumerate(COMPONENTS)}
    told = told.reset_index()
    told = told.assign(place=told["component"].map(order)).sort_values(
        ["place", "courses", "what"], ascending=[True, False, True]
    )
    return [_plain(row) for row in told.to_dict("records")]


def _plain(row: dict[Any, Any]) -> dict[str, Any]:
    return {
        "component": str(row["component"]),
        "component_words": COMPONENTS[str(row["component"])],
        "what": str(row["what"]),
        "reason": str(row["reason"]),
        "things": int(row["things"]),
        "n": None,
        "unknown": int(row["courses"]),
        "courses": int(row["courses"]),
        "estimate": None,
        "low": None,
        "high": None,
    }


def _told_columns() -> tuple[Column, ...]:
    first = (Column("component", "component_words"), Column("what", "what"), Column("why", "reason"))
    return (*first, Column("times", "things", "count"), Column("courses", "courses", "count"))
